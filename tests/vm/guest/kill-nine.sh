# kill -9 of the recorder, again and again, on one log.
. /guest/traffic.sh
. /guest/log.sh
. /guest/recorder.sh
mount -t ext4 /dev/vda /disk || bad "the disk cannot be mounted"
drive
kills=$(word count)
state=$(word seed)
random() { # below $1, in $drawn
    state=$(((state * 1103515245 + 12345) & 0x7fffffff))
    drawn=$((state / 65536 % $1))
}
wait_for_more() {
    local tries=0
    while [ "$(sqlite3 -readonly -separator : /disk/trip.db "$stored" 2>/dev/null)" = "$acknowledged" ]; do
        tries=$((tries + 1))
        [ $tries -lt 400 ] || { bad "nothing is stored: $(tail -3 /tmp/seepd.err)"; return; }
        usleep 50000
    done
}
i=0
acknowledged=
while [ $i -lt "$kills" ] && [ ! -e /tmp/bad ]; do
    i=$((i + 1))
    record /disk/trip.db
    # One kill in three while the recorder starts, the others while it stores.
    random 3
    [ $drawn = 0 ] || wait_for_more
    random 1200
    usleep $((drawn * 1000))
    now=$(sqlite3 -readonly -separator : /disk/trip.db "$stored" 2>/dev/null)
    kill -9 $recorder
    wait $recorder 2>/dev/null
    [ -z "$now" ] || acknowledged=$now
    # What the kill left is all known now, and none of it may go.
    [ -e /disk/trip.db ] || continue
    kept /disk/trip.db "$acknowledged"
    now=$(sqlite3 -readonly -separator : /tmp/copy/log.db "$stored" 2>/dev/null)
    [ -z "$now" ] || acknowledged=$now
done
[ $((i)) = "$kills" ] && tell "kills: $i, damaged 0, acknowledged rows lost 0, rows kept: ${acknowledged:-none}"
