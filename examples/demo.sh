#!/bin/sh
# Installs what is missing, builds, plays a whole bout through the real console, prints its sheets.
# Bare Debian, as root or with sudo:  sh examples/demo.sh
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/examples/setup.sh"

# shellcheck disable=SC2086 # a list of words
install_missing $packages_build

say "building: build/"
if [ -e "$root/build/CMakeCache.txt" ]; then
    build "$root/build"
else
    build "$root/build" -DCMAKE_BUILD_TYPE=RelWithDebInfo -DBUILD_TESTING=OFF
fi

demo=$root/build/demo
rm -rf "$demo"
mkdir -p "$demo"
ringtally() {
    "$root/build/ringtally" --db "$demo/demo.db" "$@"
}

say "the card"
ringtally card load "$root/examples/card.ini"
ringtally card show

if [ -t 0 ] && [ -t 1 ]; then
    ringtally desk 1 --operator demo --keys "$root/examples/bout-1.keys" --speed 40
else
    say "no terminal: playing bout 1 headless"
    ringtally desk 1 --operator demo --keys "$root/examples/bout-1.keys" --speed max --headless
fi

for round in 1 2 3; do
    ringtally sheet 1 --round "$round" -o "$demo/round-$round.txt"
    say "round $round"
    cat "$demo/round-$round.txt"
done
ringtally sheet 1 -o "$demo/bout.txt"
say "the whole bout"
cat "$demo/bout.txt"
for format in markdown csv json; do
    ringtally sheet 1 --format "$format" -o "$demo/bout.$format"
done

say "files"
ls -1 "$demo"/*.txt "$demo"/*.markdown "$demo"/*.csv "$demo"/*.json "$demo"/*.db
cat <<END

Tag it yourself:   build/ringtally --db build/demo/demo.db desk 2
Let it play:       build/ringtally --db build/demo/demo.db desk 2 --keys examples/bout-2.keys --speed 40
END
