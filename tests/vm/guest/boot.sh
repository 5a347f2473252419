# Both kinds of bus carry frames: the virtual one, and two emulated controllers
# that hear each other.
tell "$(uname -sr), $(seepd --version)"
$ip link add dev vcan0 type vcan
$ip link set vcan0 up
cangen vcan0 -g 0 -n 20000
same "frames through vcan0" "$(counted vcan0 rx_packets)" 20000

for bus in can0 can1; do
    $ip link set $bus type can bitrate 500000 && $ip link set $bus up || bad "$bus does not come up"
done
candump -L can0,0:0 -n 3 -T 5000 >/tmp/heard &
listener=$!
sleep 0.5
for data in 1122 3344 5566; do cansend can1 "18FE58FE#$data"; done
wait $listener
same "frames from can1 to can0" "$(grep -c '18FE58FE#' /tmp/heard)" 3
