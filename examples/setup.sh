# setup.sh: what ringtally needs of Debian, and how to get it. Sourced by demo.sh and tests/run.sh.

packages_build="gcc libc6-dev cmake ninja-build pkg-config libncurses-dev libsqlite3-dev
    libinih-dev libjansson-dev libutf8proc-dev libsodium-dev libcsv-dev libmicrohttpd-dev libcurl4-gnutls-dev
    libqrencode-dev zlib1g-dev libpq-dev"
packages_tests="libcmocka-dev libvterm-dev ncurses-term sqlite3 jq python3 python3-jsonschema python3-hypothesis curl
    openssl ffmpeg mpv postgresql wrk nginx-light varnish chromium fonts-dejavu-core"
packages_fuzz="clang llvm libclang-rt-14-dev"

targets= # what `build` makes; nothing: all

say() {
    printf '== %s\n' "$*"
}

as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        env DEBIAN_FRONTEND=noninteractive "$@"
    else
        sudo env DEBIAN_FRONTEND=noninteractive "$@"
    fi
}

# install_missing PACKAGE...: asks the package system only for what is not there.
install_missing() {
    missing=
    for package in "$@"; do
        status=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null) || status=
        if [ "$status" != installed ]; then
            missing="$missing $package"
        fi
    done
    if [ -z "$missing" ]; then
        return 0
    fi
    if [ "$(id -u)" -ne 0 ] && ! command -v sudo >/dev/null; then
        printf 'missing packages, and neither root nor sudo to install them:%s\n' "$missing" >&2
        return 1
    fi
    say "installing$missing"
    as_root apt-get -q -o DPkg::Lock::Timeout=120 update
    # shellcheck disable=SC2086 # a list of words
    as_root apt-get -q -y -o DPkg::Lock::Timeout=120 install --no-install-recommends $missing
}

# build FOLDER CMAKE-OPTION...: configures and builds; of all targets those in `targets`.
build() {
    folder=$1
    shift
    # shellcheck disable=SC2086 # a list of words
    cmake -S "$root" -B "$folder" -G Ninja "$@" >"$folder.log" 2>&1 &&
        cmake --build "$folder" ${targets:+--target $targets} >>"$folder.log" 2>&1 || {
        cat "$folder.log" >&2
        return 1
    }
    rm -f "$folder.log"
}
