# The recorder itself.

# The host may ask for a recorder whose syncs do nothing, to see that its checks
# notice.
preload=
[ -z "$(word nosync)" ] || preload=/lib/nosync.so

# record LOG: in the background, its process in $recorder; as a user without any
# right of its own, as the service runs. `exec` keeps it one process.
record() {
    chown recorder "$(dirname "$1")"
    chmod a+rw /dev/ttyS1
    su -s /bin/sh recorder -c "exec env LD_PRELOAD=$preload seepd run --rig ${rig:-/guest/rig.toml} \
        --log $1 --status-file $(dirname "$1")/status.json" 2>>/tmp/seepd.err &
    recorder=$!
}

# Ended in order, with what it still held stored.
stop_recorder() {
    kill -TERM $recorder
    wait $recorder || bad "seepd ended with $?: $(tail -5 /tmp/seepd.err)"
}
