# Power cuts: one disk, many lives, each cut at a seeded moment.

job_power_cuts() {
    local wanted=${count:-50} cut acked= early=0 when mode
    RANDOM=$seed
    new_disk power-cuts
    for ((cut = 1; cut <= wanted; cut++)); do
        mode=writeback
        [ $((RANDOM % 2)) = 0 ] || mode=none
        live_until_cut power-cuts "$mode" "power-cut seep.acked=$acked"
        look_after_cut
    done
    say "power-cuts: $wanted cuts, $early before the recorder ran, 0 damaged, 0 acknowledged rows lost; kept ${acked:-nothing}"
}

# Would the checks notice? The same with a recorder whose fsync does nothing:
# what it acknowledged must be found missing.
job_control() {
    local acked=
    RANDOM=$seed
    new_disk control
    first=acknowledged live_until_cut control none "power-cut seep.nosync=yes"
    acked=$(last_acknowledged)
    [ -n "$acked" ] || fail "control: nothing was acknowledged"
    machine_start control "power-cut seep.acked=$acked" -drive "file=$disk,if=virtio,format=raw"
    machine_wait '@@ (looked at|BAD)' 400 || fail "control: the machine does not get on; console: $console"
    machine_wait '@@ (recording|BAD)' 10 || true
    machine_cut
    told | grep -q -e '^BAD' -e '^sound, no log yet' ||
        fail "control: syncs did nothing, $acked was acknowledged, and the check is content: $(told | grep '^sound')"
    say "control: without syncs $acked was acknowledged, then: $(told | grep -e '^BAD' -e '^sound' | head -1)"
}

job_kill_nine() {
    local kills=${count:-200}
    new_disk kill-nine
    machine_job kill-nine $((120 + kills * 20)) "kill-nine seep.count=$kills seep.seed=$seed" \
        -drive "file=$disk,if=virtio,format=raw"
}

# $disk: an empty ext4 file system.
new_disk() {
    disk=$work/$1.disk
    rm -f "$disk"
    truncate -s 64M "$disk"
    mke2fs -q -t ext4 -E lazy_itable_init=0,lazy_journal_init=0 "$disk"
}

# live_until_cut NAME CACHE "KERNEL WORDS": one life; its length is left in $when.
live_until_cut() {
    machine_start "$1" "$3" -drive "file=$disk,if=virtio,format=raw,cache=$2"
    # Most cuts come while recording; some while the file system or the log is
    # still being recovered from the cut before.
    case $((RANDOM % 8)) in
        0) when='mounting' ms=$((RANDOM % 300)) ;;
        1) when='recording' ms=$((RANDOM % 500)) ;;
        *) when='acknowledged' ms=$((RANDOM % 5000)) ;;
    esac
    when=${first:-$when}
    machine_wait "@@ ($when|BAD)" 400 || {
        tail -20 "$console" >&2
        fail "$1: the machine does not get to '$when'; console: $console"
    }
    sleep "$(printf '%d.%03d' $((ms / 1000)) $((ms % 1000)))"
    machine_cut
}

last_acknowledged() { told | sed -n 's/^acknowledged \([^ ]*\) \.$/\1/p' | tail -1; }

look_after_cut() {
    local now
    if told | grep '^BAD'; then fail "cut $cut ($mode): see above; disk: $disk, console: $console"; fi
    now=$(last_acknowledged)
    told | grep -q '^recording' || early=$((early + 1))
    say "power-cuts: cut $cut, cache $mode, $ms ms after '$when': $(told | grep '^sound' || echo 'not looked at'); then ${now:-nothing}"
    [ -z "$now" ] || acked=$now
}
