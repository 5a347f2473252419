# What goes wrong on a bus and at its controllers, and what the log says of it.
. /guest/traffic.sh
. /guest/log.sh
. /guest/recorder.sh

# Three buses: vcan0 without hardware; can0, an emulated SJA1000 controller whose
# peer is can1; slcan0, an adapter on a serial line whose far end is this script,
# so that the kernel's own bus state machine can be led through every state.
make_rig() {
    awk '/^\[\[source/ { exit } { print }' /guest/rig.toml
    for bus in can0:ASC4.BellowPressureFrontAxleLeft:front_left_kpa_gauge \
        slcan0:ASC4.BellowPressureFrontAxleRight:front_right_kpa_gauge \
        vcan0:ASC4.BellowPressureRearAxleLeft:rear_left_kpa_gauge; do
        IFS=: read -r name signal channel <<-END
			$bus
		END
        printf '[[source]]\nname = "%s"\nkind = "socketcan"\ninterface = "%s"\nsilence_s = 2.0\n' "$name" "$name"
        printf '[[channel]]\nname = "%s"\nsource = "%s"\nsignal = "%s"\n' "$channel" "$name" "$signal"
    done
}

hear() { # BUS SENDER: three good frames
    for data in A00FA00FA00FA00F A10FA10FA10FA10F A20FA20FA20FA20F; do
        cansend "$2" "18FE58FE#$data"
        usleep 200000
    done
}

wire() { # what the adapter says
    printf '%s\r' "$1" >/dev/ttyS2
    usleep 300000
}

hear_slcan() { for i in 1 2 3; do wire T18FE58FE8A00FA00FA00FA00F; done; }

ask() { sqlite3 -readonly "$log" "$1"; }
noted() { at_least "noted of $1: $2" "$(ask "SELECT count(*) FROM notice WHERE source = '$1' AND text LIKE '%$2%'")" 1; }
# A gap of so many ms at least, and its cause.
gap() { at_least "gap of $1, ms: $3" "$(ask "SELECT max(to_t_ms - from_t_ms) FROM gap WHERE what = '$1' AND cause LIKE '%$3%'")" "$2"; }
total() { ask "SELECT coalesce(sum(count), 0) FROM counter WHERE source = '$1' AND name = '$2'"; }
state_is() { # BUS STATE, as the kernel has it
    same "kernel says of $1" "$($ip -d link show "$1" | sed -n 's/.*can .*state \([A-Z-]*\).*/\1/p')" "$2"
}

for bus in can0 can1; do
    $ip link set $bus type can bitrate 1000000
    $ip link set $bus txqueuelen 1000
    $ip link set $bus up || bad "$bus does not come up"
done
stty -F /dev/ttyS1 115200 raw -echo
stty -F /dev/ttyS2 115200 raw -echo
slcand -o -s6 /dev/ttyS1 slcan0
usleep 500000
$ip link set slcan0 up || bad "slcan0 does not come up"
bus_up

rig=/tmp/rig.toml
make_rig >$rig
log=/tmp/faults/trip.db
mkdir /tmp/faults
record $log
sleep 3
hear can0 can1
hear vcan0 vcan0
hear_slcan

# A controller goes through its error states to bus off and back.
wire sw100000
state_is slcan0 ERROR-WARNING
sleep 2
wire sp130000
state_is slcan0 ERROR-PASSIVE
sleep 2
wire e1a
wire e1s
wire sb255000
state_is slcan0 BUS-OFF
sleep 3
$ip link set slcan0 down
sleep 2
$ip link set slcan0 up
wire sa000000
state_is slcan0 ERROR-ACTIVE
sleep 2
hear_slcan

# The link goes down and up again: the socket stays.
$ip link set can0 down
sleep 3
$ip link set can0 up
sleep 2
hear can0 can1

# The FIFO of the controller overflows: its driver knows that, not how often.
cangen can1 -g 0 -p 10 -e -I 18FE58FE -L 8 -n 20000
sleep 3
overruns=$(counted can0 rx_over_errors)
received=$(counted can0 rx_packets)

# The controller is unplugged, and plugged in again.
device=$(readlink -f /sys/class/net/can0/device)
echo 1 >"$device/remove"
sleep 4
echo 1 >/sys/bus/pci/rescan
sleep 1
$ip link set can0 type can bitrate 1000000
$ip link set can0 up || bad "can0 does not come back"
sleep 8
hear can0 can1

# An interface without hardware is taken away and made again.
$ip link del vcan0
sleep 4
bus_up
sleep 8
hear vcan0 vcan0

sleep 3
stop_recorder
noted slcan0 'error active, many errors'
noted slcan0 'error passive'
noted slcan0 'bus-off'
noted slcan0 'can be read again'
same "bus offs of slcan0" "$(total slcan0 'bus offs')" 1
same "bus errors of slcan0" "$(total slcan0 'bus errors')" 2
same "frames not acknowledged, of slcan0" "$(total slcan0 'frames not acknowledged')" 1
same "frames of slcan0" "$(total slcan0 'frames seen')" 6
gap slcan0 5000 'slcan0 is bus-off'

gap can0 3000 'can0 is down'
at_least "overruns of can0, by its driver" "$overruns" 1
same "overruns of can0, by the log" "$(total can0 'controller overruns')" "$overruns"
# The driver tells each overrun by an error frame too; the socket drops those
# like any other, so they stand on both sides.
reports=$(total can0 'controller overflow reports')
same "frames and overrun reports of can0, recorded or counted as lost" \
    $(($(total can0 'frames seen') + reports + $(total can0 'socket drops'))) $((received + 3 + overruns))
gap can0 4000 'no interface can0'
same "frames of vcan0" "$(total vcan0 'frames seen')" 6
gap vcan0 4000 'no interface vcan0'
copy=$log
verified $log && tell "the log is sound"
