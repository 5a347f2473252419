# One life between two power cuts: the log is looked at as the cut left it,
# then recorded on, until the host pulls the plug.
. /guest/traffic.sh
. /guest/log.sh
. /guest/recorder.sh
tell "mounting"
mount -t ext4 /dev/vda /disk || bad "the disk cannot be mounted"
! dmesg | grep -i 'ext4.*error' || bad "ext4 reports errors"
if [ -e /disk/trip.db ]; then kept /disk/trip.db "$(word acked)"; else tell "sound, no log yet"; fi
tell "looked at"
[ ! -e /tmp/bad ] || poweroff -f
drive
tell "recording"
record /disk/trip.db
follow /disk/trip.db
