# frames PER_SECOND SECONDS [START]: a candump log of invented readings, evenly
# spaced, from messages that the rig asks for, so that no kernel filter takes
# any of them away. Little-endian fields of SAE J1939-71 as in the built-in
# database: ASC4 and ASC3 four words of 0.1 kPa or 0.1 mm - 3200 mm, AIR1 bytes
# of 8 kPa.
frames() {
    awk -v rate="$1" -v seconds="$2" -v start="${3:-1000000000}" '
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
                printf "(%.6f) vcan0 %s\n", start + i / rate, frame
            }
        }'
}
