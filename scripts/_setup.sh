# shellcheck shell=bash
# Shared by scripts/demo and scripts/test: a virtual environment in the checkout with all that is
# needed. Sourced, with the wanted extra as first argument: "core" or "test".
#
# Sets $root (the checkout) and $venv. A second run reuses the environment while pyproject.toml and
# the Python are the same. Written for bash 3.2, which macOS still ships.

root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)"
venv="$root/.venv"

# What the open3d wheel needs from the system on a bare Debian or Ubuntu.
system_libraries="libegl1 libgl1 libusb-1.0-0"

say() { printf 'lossfill set-up: %s\n' "$*" >&2; }

stop() {
    say "$*"
    exit 1
}

is_new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; }

makes_environments() { "$1" -c 'import ensurepip, venv' >/dev/null 2>&1; }

# The first Python that will do: one that can make environments before one that lacks the module.
find_python() {
    local candidate found=""
    for candidate in python3 python3.13 python3.12 python3.11; do
        command -v "$candidate" >/dev/null 2>&1 && is_new_enough "$candidate" || continue
        if makes_environments "$candidate"; then
            printf '%s\n' "$candidate"
            return
        fi
        [ -n "$found" ] || found="$candidate"
    done
    printf '%s\n' "$found"
}

may_use_apt() { [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; }

# Installs Debian packages without questions; its own output only matters where it fails.
apt_install() {
    local log
    log="$(mktemp)"
    say "installing $* with apt-get"
    if apt-get update >"$log" 2>&1 &&
        DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "$@" >>"$log" 2>&1 </dev/null; then
        rm -f "$log"
        return 0
    fi
    tail -n 5 "$log" >&2
    rm -f "$log"
    return 1
}

make_environment() {
    local python version
    python="$(find_python)"
    [ -n "$python" ] || stop "Python 3.11 or newer is needed and was not found: install it (on Debian or Ubuntu: apt-get install python3 python3-venv)"
    if ! makes_environments "$python"; then
        version="$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')"
        may_use_apt && { apt_install python3-venv || apt_install "python$version-venv" || true; }
        makes_environments "$python" || stop "this Python lacks the venv module; run: sudo apt-get install python3-venv"
    fi
    say "making a virtual environment in $venv"
    rm -rf "$venv"
    "$python" -m venv "$venv" || stop "the virtual environment could not be made in $venv: is there space, and may you write there?"
}

# Changes when the requirements, the Python or the place of the checkout change.
fingerprint() {
    { cat "$root/pyproject.toml" && "$venv/bin/python" -VV && printf '%s\n' "$root"; } 2>/dev/null | cksum
}

check_system_libraries() {
    local reason
    "$venv/bin/python" -c 'import open3d' >/dev/null 2>&1 && return
    # shellcheck disable=SC2086  # one word a package
    may_use_apt && { apt_install $system_libraries || true; }
    reason="$("$venv/bin/python" -c 'import open3d' 2>&1 >/dev/null | tail -n 1)" &&
        "$venv/bin/python" -c 'import open3d' >/dev/null 2>&1 && return
    if command -v apt-get >/dev/null 2>&1; then
        stop "open3d does not load ($reason); run: sudo apt-get install $system_libraries"
    fi
    stop "open3d does not load ($reason): install your system's packages for libEGL, libGL and libusb-1.0"
}

# The browser tests drive Debian's own Chromium. Without it they are skipped, and this says so.
check_browser() {
    local candidate
    [ -z "${LOSSFILL_CHROMIUM:-}" ] || return 0
    for candidate in chromium chromium-browser google-chrome; do
        command -v "$candidate" >/dev/null 2>&1 && return
    done
    may_use_apt && apt_install chromium && return
    say "no Chromium was found: the browser tests of the page will be skipped; to run them, install chromium (on Debian: apt-get install chromium) or name the browser with LOSSFILL_CHROMIUM"
}

set_up() {
    local wanted="$1" target stamp
    "$venv/bin/python" -m pip --version >/dev/null 2>&1 && is_new_enough "$venv/bin/python" || make_environment
    # The test tools hold all of the core.
    for stamp in "$venv/lossfill-test" "$venv/lossfill-$wanted"; do
        [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$(fingerprint)" ] && return
    done
    target="$root"
    [ "$wanted" = core ] || target="$root[$wanted]"
    say "installing what lossfill needs (the first time: several hundred MB and some minutes)"
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --editable "$target" </dev/null ||
        stop "pip could not install the requirements (its reason is above): check the network and the free space; on Linux, glibc 2.35 or newer is needed (Debian 12, Ubuntu 22.04)"
    check_system_libraries
    fingerprint >"$stamp"
}

set_up "$1"
[ "$1" != test ] || check_browser
