# Invented readings on a bus and on a wire. All messages are ones that the rig
# asks for, so that no kernel filter takes any of them away.

# frames PER_SECOND SECONDS: a candump log, evenly spaced. Little-endian fields
# of SAE J1939-71 as in the built-in database: ASC4 and ASC3 four words of
# 0.1 kPa or of 0.1 mm above -3200 mm, AIR1 bytes of 8 kPa.
frames() {
    awk -v rate="$1" -v seconds="$2" '
        # A triangle from 0 to 1 and back: this awk has no sine.
        function wave(x) { x = x % 2; return x < 1 ? x : 2 - x }
        function word(x) { return sprintf("%02X%02X", x % 256, int(x / 256)) }
        BEGIN {
            for (i = 0; i < rate * seconds; i++) {
                now = wave(i / rate)
                p = int(4000 + 400 * now)
                h = int(32000 + 200 * now)
                if (i % 3 == 0) frame = "18FE58FE#" word(p) word(p + 10) word(p + 20) word(p + 30)
                if (i % 3 == 1) frame = "18FE59FE#" word(h) word(h + 1) word(h + 2) word(h + 3)
                if (i % 3 == 2) frame = "18FEAEFE#FFFFFFFFFF" sprintf("%02X", 110 + int(5 * now)) "FFFF"
                printf "(%.6f) bus %s\n", 1000000000 + i / rate, frame
            }
        }'
}

# sentences COUNT: NMEA 0183 XDR sentences with their checksums.
sentences() {
    awk -v count="$1" '
        BEGIN {
            for (i = 1; i < 128; i++) code[sprintf("%c", i)] = i
            for (n = 0; n < count; n++) {
                body = sprintf("YXXDR,C,%.1f,C,AMB,U,%.2f,V,VOLT", 20 + n % 10 / 10, 13 + n % 7 / 10)
                sum = 0
                for (i = 1; i <= length(body); i++) sum = xor(sum, code[substr(body, i, 1)])
                printf "$%s*%02X\r\n", body, sum
            }
        }'
}

bus_up() {
    $ip link add dev vcan0 type vcan
    $ip link set vcan0 up || bad "vcan0 does not come up"
}

# Frames on vcan0 and sentences on the wire's far end, until the machine ends.
drive() {
    bus_up
    frames 300 10 >/tmp/frames.log
    canplayer -l i -I /tmp/frames.log vcan0=bus &
    stty -F /dev/ttyS2 38400 raw -echo
    sentences 100 >/tmp/sentences
    while :; do
        while read -r line; do
            printf '%s\n' "$line"
            usleep 100000
        done </tmp/sentences >/dev/ttyS2
    done &
}
