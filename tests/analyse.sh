#!/bin/sh
# Three analysers over the sources: clang-tidy (.clang-tidy says what is not looked for, and why), cppcheck, and gcc's
# own. What they take for a fault and is none stands in analyse.suppress, by the line that it is about. Fails where one
# finds anything else, cannot read a file, or does not see a planted fault. Takes minutes.
#
# usage: analyse.sh [tidy|cppcheck|gcc]... [FILE...]    (all three, all sources)
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root"
cmake -S . -B build-analyse -G Ninja -DCMAKE_BUILD_TYPE=Debug -DCMAKE_EXPORT_COMPILE_COMMANDS=ON >/dev/null
exec /usr/bin/python3 tests/analyse.py build-analyse "$@"
