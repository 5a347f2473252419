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
i=0
while [ $i -lt "$kills" ] && [ ! -e /tmp/bad ]; do
    i=$((i + 1))
    record /disk/trip.db
    random 2500
    usleep $((drawn * 1000))
    now=$(sqlite3 -readonly -separator : /disk/trip.db "$stored" 2>/dev/null)
    kill -9 $recorder
    wait $recorder 2>/dev/null
    [ -z "$now" ] || acknowledged=$now
    [ ! -e /disk/trip.db ] || kept /disk/trip.db "$acknowledged"
done
[ $((i)) = "$kills" ] && tell "kills: $i, damaged 0, acknowledged rows lost 0, rows kept: ${acknowledged:-none}"
