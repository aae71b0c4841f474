#!/bin/sh
# Installs what is missing, builds with sanitizers, runs the whole suite.
# Bare Debian, as root or with sudo:  sh tests/run.sh
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/examples/setup.sh"

# gcc's sanitizers stumble where the kernel spreads addresses wide: keep them still if allowed.
still=
if setarch -R true 2>/dev/null; then
    still="setarch -R"
fi

suite() {
    folder=$1
    shift
    # A test that was not run or says that it skips is a failure here. Two slots a core: a test that
    # computes takes two (PROCESSORS), one that waits for terminals, players and pages takes one.
    # shellcheck disable=SC2086 # words, or none
    $still ctest --test-dir "$folder" --output-on-failure --no-tests=error -j "$(($(nproc) * 2))" "$@" |
        tee "$folder/suite.log"
    if ! grep -q '^100% tests passed' "$folder/suite.log" ||
        grep -E '\*\*\*(Not Run|Skipped)' "$folder/suite.log"; then
        say "failed: $folder"
        return 1
    fi
}

# shellcheck disable=SC2086 # lists of words
install_missing $packages_build $packages_tests

# axe-core is in no Debian package. Where npm is there and reaches its registry: this version, these bytes.
axe=$root/build-tests/axe/package/axe.min.js
mkdir -p "$root/build-tests/axe"
if ! [ -f "$axe" ] && command -v npm >/dev/null; then
    (cd "$root/build-tests/axe" && timeout 60 npm pack --silent axe-core@4.10.2 &&
        tar -xzf axe-core-4.10.2.tgz package/axe.min.js) >/dev/null 2>&1 || true
fi
echo "b511cd9dec01c76f4b2ad1723b66b6db37d4c2eb4ed199076e1829d9ee7b75e3  $axe" |
    sha256sum --check --status 2>/dev/null || axe=

say "address and undefined-behaviour sanitizers: build-tests/"
build "$root/build-tests" -DRINGTALLY_AXE="$axe" -DCMAKE_BUILD_TYPE=Debug -DRINGTALLY_SANITIZE=address,undefined
suite "$root/build-tests"

# The simulations compute while the thread sanitizer's tests wait for terminals.
say "what users get, optimised and hardened, and simulations that take its speed: build-tests-release/"
targets="ringtally ringtally-feed ringtally-hub simulations"
build "$root/build-tests-release" -DCMAKE_BUILD_TYPE=RelWithDebInfo
suite "$root/build-tests-release" -L 'release|simulation' >/dev/null 2>&1 &
simulations=$!

say "thread sanitizer: build-tests-tsan/"
targets=tsan_tests
raced=
build "$root/build-tests-tsan" -DCMAKE_BUILD_TYPE=Debug -DRINGTALLY_SANITIZE=thread &&
    suite "$root/build-tests-tsan" -L tsan || raced=yes
wait "$simulations" || {
    cat "$root/build-tests-release/suite.log"
    exit 1
}
[ -z "$raced" ]
cat "$root/build-tests-release/suite.log"

command -v chromium >/dev/null ||
    say "not run: the page in a browser (label browser), since chromium is not installed"
[ -n "$axe" ] || say "not run: the pages against axe-core (feed/axe), which npm could not fetch here"
{ PATH=$PATH:/usr/sbin command -v nginx && PATH=$PATH:/usr/sbin command -v varnishd; } >/dev/null ||
    say "not run: the feed behind proxies (feed/proxy), since nginx or varnish is not installed"
say "all tests passed"
