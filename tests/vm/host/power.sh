# Power cuts: one disk, many lives, each cut at a seeded moment.

job_power_cuts() {
    local wanted=${count:-50} cut acked= early=0 when mode rows
    RANDOM=$seed
    disk=$work/power-cuts.disk
    rm -f "$disk"
    truncate -s 64M "$disk"
    mke2fs -q -t ext4 "$disk"
    for ((cut = 1; cut <= wanted; cut++)); do
        mode=writeback
        [ $((RANDOM % 2)) = 0 ] || mode=none
        machine_start power-cuts "power-cut seep.acked=$acked" \
            -drive "file=$disk,if=virtio,format=raw,cache=$mode"
        # Most cuts come while recording; some while the file system or the log
        # is still being recovered from the cut before.
        case $((RANDOM % 8)) in
            0) machine_wait '@@ mounting' 120; when=$((RANDOM % 300)) ;;
            1) machine_wait '@@ recording' 120; when=$((RANDOM % 500)) ;;
            *) machine_wait '@@ (acknowledged|BAD)' 120; when=$((RANDOM % 5000)) ;;
        esac || { tail -20 "$console" >&2; fail "cut $cut: the machine does not get on; console: $console"; }
        sleep "$(printf '%d.%03d' $((when / 1000)) $((when % 1000)))"
        machine_cut
        look_after_cut
    done
    say "power-cuts: $wanted cuts, $early before the recorder ran, 0 damaged, 0 acknowledged rows lost; ${acked:-0:0} kept"
}

look_after_cut() {
    local now
    if told | grep '^BAD'; then fail "cut $cut ($mode): see above; disk: $disk, console: $console"; fi
    now=$(told | sed -n 's/^acknowledged \([^ ]*\) \.$/\1/p' | tail -1)
    told | grep -q '^recording' || early=$((early + 1))
    say "power-cuts: cut $cut, cache $mode, after $when ms: $(told | grep '^sound' || echo 'not looked at'); then ${now:-nothing}"
    [ -z "$now" ] || acked=$now
}
