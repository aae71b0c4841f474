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
    # A test that was not run or says that it skips is a failure here.
    # shellcheck disable=SC2086 # words, or none
    $still ctest --test-dir "$folder" --output-on-failure --no-tests=error -j "$(nproc)" "$@" |
        tee "$folder/suite.log"
    if ! grep -q '^100% tests passed' "$folder/suite.log" ||
        grep -E '\*\*\*(Not Run|Skipped)' "$folder/suite.log"; then
        say "failed: $folder"
        return 1
    fi
}

# shellcheck disable=SC2086 # lists of words
install_missing $packages_build $packages_tests

say "address and undefined-behaviour sanitizers: build-tests/"
build "$root/build-tests" -DCMAKE_BUILD_TYPE=Debug -DRINGTALLY_SANITIZE=address,undefined
suite "$root/build-tests"

say "thread sanitizer: build-tests-tsan/"
build "$root/build-tests-tsan" -DCMAKE_BUILD_TYPE=Debug -DRINGTALLY_SANITIZE=thread
suite "$root/build-tests-tsan" -L tsan

command -v chromium >/dev/null ||
    say "not run: the page in a browser (label browser), since chromium is not installed"
{ PATH=$PATH:/usr/sbin command -v nginx && PATH=$PATH:/usr/sbin command -v varnishd; } >/dev/null ||
    say "not run: the feed behind proxies (feed/proxy), since nginx or varnish is not installed"
say "all tests passed"
