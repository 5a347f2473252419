# One virtual machine: started, listened to, and switched off or cut.

machine=
console=

# machine_start NAME "KERNEL WORDS" [QEMU ARGUMENT...]
machine_start() {
    local name=$1 words=$2
    shift 2
    console=$work/$name.console
    : >"$console"
    # On a busy host the kernel's check of the emulated timer may fail.
    local kernel_words="console=ttyS0 quiet panic=-1 no_timer_check seep.job=$words"
    # Two more serial ports, joined: what goes into one comes out of the other.
    (cd "$work" && exec qemu-system-x86_64 -accel tcg,thread=multi -cpu max -smp 2 -m 512 \
        -nodefaults -display none -no-reboot -serial "file:$console" -kernel "$kernel" -initrd "$work/initrd.cpio" \
        -chardev socket,id=near,path=wire,server=on,wait=off -serial chardev:near \
        -chardev socket,id=far,path=wire -serial chardev:far \
        -append "$kernel_words" "$@" \
        </dev/null >"$work/$name.qemu" 2>&1 8>&-) &
    machine=$!
}

# machine_wait EXTENDED-REGEX SECONDS: until a line of the console matches.
machine_wait() {
    local pattern=$1 until=$((SECONDS + $2))
    while ! grep -qaE "$pattern" "$console"; do
        kill -0 "$machine" 2>/dev/null || { grep -qaE "$pattern" "$console" && return 0; return 1; }
        [ $SECONDS -lt $until ] || return 1
        sleep 0.05
    done
}

# machine_ends SECONDS: until the guest has switched itself off.
machine_ends() {
    local until=$((SECONDS + $1))
    while kill -0 "$machine" 2>/dev/null; do
        if [ $SECONDS -ge $until ]; then
            machine_cut
            return 1
        fi
        sleep 0.1
    done
    wait "$machine" || true
    machine=
}

# The power goes: no flush, no warning.
machine_cut() {
    kill -KILL "$machine" 2>/dev/null || true
    wait "$machine" 2>/dev/null || true
    machine=
}

trap '[ -z "$machine" ] || machine_cut' EXIT

# Lines the guest meant for the host, without the marker.
told() { tr -d '\r' <"$console" | sed -n 's/^.*@@ //p'; }

# machine_job NAME SECONDS "KERNEL WORDS" [QEMU ARGUMENT...]: run a job to its
# end, show what it told, fail unless the guest said that all was well.
machine_job() {
    local name=$1 seconds=$2
    shift 2
    machine_start "$name" "$@"
    machine_ends "$seconds" || { tail -20 "$console" >&2; fail "$name: no end after $seconds s; console: $console"; }
    told | sed "s/^/vm: $name: /"
    if told | grep -q '^BAD'; then fail "$name: see above; console: $console"; fi
    told | grep -qx 'all well' || { tail -20 "$console" >&2; fail "$name: the guest did not reach its end; console: $console"; }
}
