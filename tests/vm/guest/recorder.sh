# The recorder under load, writing to LOG.

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
        seepd replay --rig /guest/rig.toml --log "$1" --append /tmp/piece.log 2>/tmp/seepd.err ||
            bad "seepd: $(cat /tmp/seepd.err)"
        n=$((n + 1))
    done
}
