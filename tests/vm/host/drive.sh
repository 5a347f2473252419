# A drive with a cache of its own: the power takes what it had been given and not
# yet been told to flush. One recording, every write noted by qemu; then many
# cuts of it, each a disk on which the last writes are lost, torn and out of
# order.

job_drive_cache() {
    local wanted=${count:-200} cut end said lost=0
    RANDOM=$seed
    drive=$work/drive scratch=$work/drive seep=$programs/seep
    rm -rf "$drive"
    mkdir "$drive"
    new_disk drive-cache
    cp --sparse=always "$disk" "$drive/before"
    : >"$drive/writes"
    machine_start drive-cache power-cut -device virtio-blk-pci,drive=disk \
        -blockdev "driver=blklogwrites,node-name=disk,file.driver=file,file.filename=$disk,log.driver=file,log.filename=$drive/writes,log-sector-size=512"
    note_marks 20
    machine_cut
    [ -s "$drive/marks" ] || fail "drive-cache: nothing was acknowledged; console: $console"
    for ((cut = 1; cut <= wanted; cut++)); do
        cut_drive || fail "drive-cache: cut $cut at $end, --seed $seed: $said; disk: $drive/after"
        lost=$((lost + $(grep -o '[0-9]* of them lost' <<<"$said" | cut -d' ' -f1)))
        [ $((cut % 10)) != 0 ] || say "drive-cache: cut $cut at $end: $said"
    done
    say "drive-cache: $wanted cuts, $lost sectors lost from the drive's cache, 0 damaged, 0 acknowledged rows lost"
    # Would the checks notice? A drive that flushes nothing cannot be survived.
    for ((cut = 1; cut <= 20; cut++)); do
        if ! cut_drive lying; then
            say "drive-cache: control, a drive that flushed nothing: $said"
            return
        fi
    done
    fail "drive-cache: 20 cuts of a drive that flushed nothing, and the checks are content"
}

# note_marks SECONDS: from the first acknowledged row on, how long the log of
# writes was at most when a row was acknowledged.
note_marks() {
    local until now before=
    machine_wait '@@ (acknowledged|BAD)' 400 || fail "drive-cache: the machine does not get on; console: $console"
    until=$((SECONDS + $1))
    while [ $SECONDS -lt $until ]; do
        now=$(last_acknowledged)
        [ "$now" = "$before" ] || echo "$(stat -c %s "$drive/writes") $now" >>"$drive/marks"
        before=$now
        sleep 0.02
    done
}

# cut_drive [lying]: a disk as a cut at some byte leaves it. True when the file
# system is sound, the log is sound, and nothing acknowledged is missing.
cut_drive() {
    local name acked
    end=$(((RANDOM * 32768 + RANDOM) % $(stat -c %s "$drive/writes")))
    acked=$(awk -v end=$end '$1 <= end { a = $2 } END { print a }' "$drive/marks")
    said=$("$programs/lossy-disk" "$drive/before" "$drive/writes" "$drive/after" "$end" $((seed * 100000 + cut)) "$@") ||
        fail "drive-cache: $said"
    e2fsck -E journal_only -p "$drive/after" >"$drive/fsck" 2>&1 || true
    if ! e2fsck -fn "$drive/after" >"$drive/fsck" 2>&1; then
        said="$said: the file system is damaged"
        return 1
    fi
    for name in trip.db trip.db-wal; do
        rm -f "$drive/$name"
        debugfs -R "dump /$name $drive/$name" "$drive/after" >/dev/null 2>&1
    done
    if [ -e "$drive/trip.db" ]; then
        said="$said: $(kept "$drive/trip.db" "$acked")"
    elif [ -n "$acked" ]; then
        said="$said: no log, and $acked was acknowledged"
        return 1
    fi
    case $said in
        *BAD*) return 1 ;;
    esac
}
