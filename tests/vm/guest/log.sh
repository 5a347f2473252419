# The log as SQLite's own shell sees it: what is stored, and what was kept. For
# guest and host.

rows_up_to() { echo "SELECT * FROM tick WHERE t_ms <= $1 ORDER BY t_ms"; }

# Time of the last row, number of rows, digest over every value of every row,
# all of one moment.
stored='WITH last AS (SELECT max(t_ms) AS t FROM tick)
    SELECT t, (SELECT count(*) FROM tick), substr(hex(sha3_query(
        "SELECT * FROM tick WHERE t_ms <= " || t || " ORDER BY t_ms")), 1, 16)
    FROM last WHERE t IS NOT NULL'

# follow LOG: tell what can be read, as soon as it can. A reader sees a
# transaction only once it is on the disk, so what is told here is acknowledged.
follow() {
    local before now
    before=$(sqlite3 -readonly -separator : "$1" "$stored" 2>/dev/null)
    while :; do
        now=$(sqlite3 -readonly -separator : "$1" "$stored" 2>/dev/null)
        [ -z "$now" ] || [ "$now" = "$before" ] || tell "acknowledged $now ."
        before=$now
        sleep 0.05
    done
}

# verified LOG: seep's own check finds the log sound, as it lies there. A log
# without a table yet is none to it.
verified() {
    local said
    [ "$(sqlite3 "$copy" 'SELECT count(*) FROM sqlite_schema')" != 0 ] || return 0
    said=$(${seep:-seep} verify --log "$1" --fail-on-finding 2>&1) && return 0
    bad "seep verify ends with $?: $(echo "$said" | head -3 | tr '\n' ' ')"
    return 1
}

# kept LOG T:ROWS:DIGEST: a copy of the log is sound and holds what was
# acknowledged. The copy leaves the work of recovery to the recorder.
kept() {
    local folder=${scratch:-/tmp}/copy copy sound t found
    copy=$folder/log.db
    rm -rf "$folder"
    mkdir "$folder"
    cp "$1" "$copy"
    [ ! -e "$1-wal" ] || cp "$1-wal" "$copy-wal"
    sound=$(sqlite3 "$copy" 'PRAGMA integrity_check' 2>&1)
    [ "$sound" = ok ] || { bad "damaged: $sound"; return; }
    verified "$1" || return
    [ -n "$2" ] || { tell "sound, nothing had been acknowledged"; return; }
    t=${2%%:*}
    found=$(sqlite3 -separator : "$copy" "SELECT $t, (SELECT count(*) FROM tick WHERE t_ms <= $t),
        substr(hex(sha3_query('$(rows_up_to "$t")')), 1, 16)" 2>&1)
    if [ "$found" = "$2" ]; then
        tell "sound, kept $found and $(sqlite3 "$copy" "SELECT count(*) FROM tick WHERE t_ms > $t") later"
    else
        bad "acknowledged $2, found $found"
    fi
}
