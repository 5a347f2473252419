# A bus as full as 1 Mbit/s allows: every frame is recorded, or counted as lost.
. /guest/traffic.sh
. /guest/log.sh
. /guest/recorder.sh

# counted_as NAME: a counter of the log, summed.
counted_as() {
    sqlite3 -readonly "$log" "SELECT coalesce(sum(count), 0) FROM counter WHERE source = 'bus' AND name = '$1'"
}

# begin NAME: a new log, with its recorder listening.
begin() {
    log=/tmp/$1/trip.db
    mkdir "/tmp/$1"
    record "$log"
    local tries=0
    # A listener shows in the kernel's list of receivers of the bus.
    until grep -q '^ *vcan0' /proc/net/can/rcvlist_fil /proc/net/can/rcvlist_eff 2>/dev/null; do
        tries=$((tries + 1))
        [ $tries -lt 200 ] || { bad "seepd does not listen: $(cat /tmp/seepd.err)"; return 1; }
        usleep 50000
    done
    sent_before=$(counted vcan0 rx_packets)
}

# finish: end the recorder in order; $sent, $seen, $lost.
finish() {
    sleep 3
    stop_recorder
    sent=$(($(counted vcan0 rx_packets) - sent_before))
    seen=$(counted_as 'frames seen')
    lost=0
    for place in 'socket drops' 'driver drops' 'driver queue overruns' 'controller overruns'; do
        lost=$((lost + $(counted_as "$place")))
    done
    same "$1: frames recorded or counted as lost, of $sent sent" $((seen + lost)) "$sent"
    copy=$log
    verified "$log"
}

now_ms() { awk '{ printf "%d", $1 * 1000 }' /proc/uptime; }

per_second=9500
seconds=$(word seconds)
bus_up
frames $per_second 1 >/tmp/second.log

# The recorder held up for 2 s, as by a slow disk: the socket must overflow, and
# the count must still come out even.
begin held
canplayer -l 6 -I /tmp/second.log vcan0=bus &
player=$!
sleep 1
kill -STOP $recorder
sleep 2
kill -CONT $recorder
wait $player
finish held
at_least "held up: lost and counted" "$lost" 1

# The same at the very end of the traffic, when no later frame can tell of the loss.
begin end
kill -STOP $recorder
canplayer -l 1 -I /tmp/second.log vcan0=bus
kill -CONT $recorder
finish end
at_least "held up at the end: lost and counted" "$lost" 1

# With the room that the service's own settings give.
sysctl -q -p /guest/seepd.sysctl
begin steady
from=$(now_ms)
canplayer -l "$seconds" -I /tmp/second.log vcan0=bus
took=$(($(now_ms) - from))
finish steady
rate=$((sent * 1000 / took))
tell "steady: frames in a second, for $((took / 1000)) s: $rate"
# No fault of the recorder: counted out all the same, but the bar is not shown.
[ $rate -ge 8000 ] || tell "SKIPPED: the bar of 8000 frames a second: the host is too busy to send them"
tell "steady: lost and counted: $lost"
tell "steady: rows stored: $(sqlite3 -readonly "$log" 'SELECT count(*) FROM tick')"

# Messages that the rig does not ask for never reach the program.
begin other
cangen vcan0 -g 0 -p 10 -e -I 18FF1234 -L 8 -n 100000
sleep 3
stop_recorder
same "others: frames that reached the program, of 100000" "$(counted_as 'frames seen')" 0
