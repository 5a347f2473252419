# Shared by the jobs in the guest.

# By its path: the shell would take its own applet.
ip=$(ls /bin/ip /sbin/ip /usr/bin/ip /usr/sbin/ip 2>/dev/null | head -1)

tell() { echo "@@ $*"; }
bad() { echo "@@ BAD $*"; touch /tmp/bad; }

# same WHAT FOUND EXPECTED
same() { if [ "$2" = "$3" ]; then tell "$1: $2"; else bad "$1: $2, expected $3"; fi; }

# at_least WHAT FOUND LEAST
at_least() { if [ "$2" -ge "$3" ]; then tell "$1: $2"; else bad "$1: $2, expected at least $3"; fi; }

counted() { cat "/sys/class/net/$1/statistics/$2"; }
