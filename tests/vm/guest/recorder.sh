# The recorder under load, writing to LOG.

# The host may ask for a recorder whose syncs do nothing, to see that its checks
# notice.
seepd=seepd
[ -z "$(word nosync)" ] || seepd='env LD_PRELOAD=/lib/nosync.so seepd'

# record LOG: in the background, its process in $recorder.
record() {
    replay_for_ever "$1" &
    recorder=$!
}

# Pieces of a recording added one after the other, each committed at its end.
replay_for_ever() {
    local n=0
    while :; do
        frames 300 1 $((1000000000 + 10 * n)) >/tmp/piece.log
        $seepd replay --rig /guest/rig.toml --log "$1" --append /tmp/piece.log 2>/tmp/seepd.err ||
            bad "seepd: $(cat /tmp/seepd.err)"
        n=$((n + 1))
    done
}

kill_recorder() {
    kill -9 "$recorder"
    killall -9 seepd 2>/dev/null
    wait "$recorder" 2>/dev/null
}
