# What the host needs: found, or fetched with apt, or a clear word that it is missing.

work=
cache=

say() { printf 'vm: %s\n' "$*"; }

skip() {
    printf 'SKIPPED: tests/vm/run %s: %s\n' "$job" "$*"
    [ -z "${SEEP_VM_REQUIRED:-}" ] || exit 69
    exit 0
}

# For the parts shared with the guest.
tell() { echo "$*"; }
bad() { echo "BAD $*"; }

fail() {
    printf 'FAILED: tests/vm/run %s: %s\n' "$job" "$*" >&2
    exit 1
}

# Program → package that holds it.
packages() {
    cat <<'LIST'
qemu-system-x86_64 qemu-system-x86
busybox busybox-static
cpio cpio
candump can-utils
ip iproute2
modprobe kmod
mke2fs e2fsprogs
sqlite3 sqlite3
strip binutils
eatmydata eatmydata
LIST
}

missing_packages() {
    local program package
    packages | while read -r program package; do
        command -v "$program" >/dev/null || echo "$package"
    done
}

fetch_tools() {
    PATH=$PATH:/usr/sbin:/sbin
    local missing
    missing=$(missing_packages | tr '\n' ' ')
    if [ -n "$missing" ]; then
        command -v apt-get >/dev/null || skip "missing: $missing(and there is no apt-get to fetch them with)"
        [ "$(id -u)" = 0 ] || skip "missing: $missing(run: sudo apt-get install $missing)"
        say "fetching $missing"
        # shellcheck disable=SC2086
        install_packages $missing || skip "apt-get could not install: $missing"
        missing=$(missing_packages | tr '\n' ' ')
        [ -z "$missing" ] || skip "still missing after apt-get install: $missing"
    fi
    file "$(command -v busybox)" 2>/dev/null | grep -q 'dynamically' &&
        skip "busybox is not the static one: install busybox-static"
    return 0
}

install_packages() {
    local log=$work/apt.log
    apt_install "$@" >"$log" 2>&1 && return 0
    # Package lists may never have been read on a fresh machine.
    apt-get -q update >>"$log" 2>&1 && apt_install "$@" >>"$log" 2>&1
}

apt_install() {
    DEBIAN_FRONTEND=noninteractive apt-get -q -y install --no-install-recommends "$@" </dev/null
}

# The distribution's own kernel, unpacked and not installed: $kernel, $modules, $release.
fetch_kernel() {
    local package unpacked
    if ! ls "$cache"/linux-image-*.deb >/dev/null 2>&1; then
        command -v apt-get >/dev/null || skip "there is no apt-get to fetch a Debian kernel with"
        package=$(kernel_package)
        if [ -z "$package" ] && [ "$(id -u)" = 0 ]; then
            apt-get -q update >"$work/apt.log" 2>&1 || true
            package=$(kernel_package)
        fi
        [ -n "$package" ] || skip "apt knows no package linux-image-amd64: a Debian kernel is needed"
        say "fetching $package"
        (cd "$cache" && apt-get -q download "$package" >"$work/apt.log" 2>&1) ||
            skip "apt-get download $package failed: $(tail -1 "$work/apt.log")"
    fi
    unpacked=$cache/kernel
    if [ ! -f "$unpacked/done" ]; then
        rm -rf "$unpacked"
        dpkg -x "$cache"/linux-image-*.deb "$unpacked" || fail "the kernel package cannot be unpacked"
        release=$(ls "$(modules_of "$unpacked")")
        depmod -b "$(dirname "$(dirname "$(modules_of "$unpacked")")")" "$release"
        touch "$unpacked/done"
    fi
    kernel=$(ls "$unpacked"/boot/vmlinuz-*)
    release=$(ls "$(modules_of "$unpacked")")
    modules=$(dirname "$(dirname "$(modules_of "$unpacked")")")
}

# Debian 13 keeps modules in usr/lib.
modules_of() {
    if [ -d "$1/usr/lib/modules" ]; then echo "$1/usr/lib/modules"; else echo "$1/lib/modules"; fi
}

kernel_package() {
    apt-cache depends linux-image-amd64 2>/dev/null |
        sed -n 's/.*Depends: \(linux-image-[0-9][^ ]*\)$/\1/p' | head -1
}

prepare() {
    [ "$(uname -m)" = x86_64 ] || skip "the machine is built for x86-64 hosts, this is $(uname -m)"
    command -v cargo >/dev/null || fail "cargo is not installed"
    target=$(cd "$root" && cargo metadata --format-version 1 --no-deps |
        sed -n 's/.*"target_directory":"\([^"]*\)".*/\1/p')
    work=$target/vm
    cache=$work/cache
    mkdir -p "$cache"
    exec 8>"$work/lock"
    flock -n 8 || fail "another run of tests/vm/run is at work in $work"
    fetch_tools
    fetch_kernel
    build_image
}
