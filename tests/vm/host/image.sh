# The guest's first file system: busybox, modules, programs under test, job scripts.

# Modules by what needs them; modprobe knows the rest and the order.
guest_modules="can_raw vcan can_dev kvaser_pci slcan virtio_pci virtio_blk crc32c_generic ext4"
guest_programs="candump cangen cansend canplayer slcand ip sqlite3"

build_image() {
    local tree=$work/tree
    build_programs
    rm -rf "$tree"
    mkdir -p "$tree"/{bin,sbin,usr/bin,lib/modules,proc,sys,dev,tmp,disk,etc}
    cp "$(command -v busybox)" "$tree/bin/busybox"
    # No `ip` applet: the shell would prefer it to iproute2's, which knows CAN.
    busybox --list | grep -vx -e ip -e busybox | while read -r applet; do
        ln -s busybox "$tree/bin/$applet"
    done
    add_modules "$tree"
    local program
    for program in $guest_programs; do
        add_program "$tree" "$(command -v "$program")"
    done
    for program in seepd seep; do
        strip -o "$tree/usr/bin/$program" "$programs/$program"
        add_libraries "$tree" "$programs/$program"
    done
    # For the control: a recorder whose fsync does nothing.
    cp "$(ldconfig -p | sed -n 's/.*libeatmydata\.so\.1 .*=> //p' | head -1)" "$tree/lib/nosync.so"
    cp -r "$here/guest" "$tree/"
    cp "$root/systemd/seepd.sysctl" "$tree/guest/"
    install -m 755 "$tree/guest/init" "$tree/init"
    (cd "$tree" && find . -mindepth 1 | cpio -o -H newc -R 0:0 --quiet) >"$work/initrd.cpio"
}

# SEEP_VM_PROGRAMS names a folder with programs that are built already.
build_programs() {
    programs=${SEEP_VM_PROGRAMS:-$target/debug}
    if [ -n "${SEEP_VM_PROGRAMS:-}" ]; then
        local program
        for program in seepd seep lossy-disk; do
            [ -x "$programs/$program" ] || fail "SEEP_VM_PROGRAMS: there is no $program in $programs"
        done
        return 0
    fi
    say "building seepd, seep and lossy-disk"
    (cd "$root" && cargo build --locked -q -p seep-tests --bin seepd --bin seep --bin lossy-disk) ||
        fail "they do not build"
}

add_modules() {
    local tree=$1 name path plain
    for name in $guest_modules; do
        modprobe -d "$modules" -S "$release" --show-depends "$name" || fail "the kernel has no module $name"
    done | sed -n 's/^insmod \([^ ]*\).*/\1/p' | awk '!seen[$0]++' >"$work/modules.list"
    while read -r path; do
        plain=$(basename "$path")
        case $path in
            *.xz) plain=${plain%.xz}; xz -dc "$path" >"$tree/lib/modules/$plain" ;;
            *.zst) plain=${plain%.zst}; zstd -qdc "$path" >"$tree/lib/modules/$plain" ;;
            *) cp "$path" "$tree/lib/modules/$plain" ;;
        esac
        echo "$plain"
    done <"$work/modules.list" >"$tree/lib/modules/order"
}

add_program() {
    install -D "$2" "$1$2"
    add_libraries "$1" "$2"
}

# Every shared library that a program names, each at its own path.
add_libraries() {
    local tree=$1 library
    ldd "$2" 2>/dev/null | grep -o '/[^ ]*' | while read -r library; do
        [ -e "$tree$library" ] || install -D "$library" "$tree$library"
    done
}
