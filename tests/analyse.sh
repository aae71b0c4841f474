#!/bin/sh
# Three analysers over the sources, each with the reasons for what it is not to look for: clang-tidy (.clang-tidy),
# cppcheck (tests/cppcheck.suppress), gcc's own. Fails where one finds anything. Takes minutes.
#
# usage: analyse.sh [FILE...]    (all sources)
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root" || exit 1
for tool in clang-tidy cppcheck gcc cmake ninja; do
    command -v "$tool" >/dev/null || { echo "analyse.sh: $tool is not installed" >&2; exit 1; }
done
found=$(mktemp)
trap 'rm -f "$found"' EXIT
[ $# -gt 0 ] || set -- src/*/*.c src/*/*/*.c

# The embedded files are made first: an analyser reads what the compiler reads.
cmake -S . -B build-analyse -G Ninja -DCMAKE_BUILD_TYPE=Debug -DCMAKE_EXPORT_COMPILE_COMMANDS=ON \
    -DBUILD_TESTING=OFF >/dev/null || exit 1

echo "== clang-tidy"
printf '%s\n' "$@" | xargs -P "$(nproc)" -n 8 clang-tidy --quiet -p build-analyse 2>/dev/null >"$found.tidy"
grep -E '(warning|error):' "$found.tidy" | sort -u >>"$found"
rm -f "$found.tidy"

echo "== cppcheck"
cppcheck --std=c11 --enable=warning,performance,portability --quiet -j "$(nproc)" -Iinclude -Isrc \
    --suppressions-list=tests/cppcheck.suppress --template='{file}:{line}: {id}: {message}' "$@" 2>>"$found"

# gcc 12 follows no call into another file, and so does not know that what makes an error never returns 0: the checks
# that hang on that find only what cannot be. (What they are for the sanitizers and valgrind see.)
echo "== gcc -fanalyzer"
printf '%s\n' "$@" | xargs -P "$(nproc)" -n 1 gcc -std=c17 -D_POSIX_C_SOURCE=200809L -D_XOPEN_SOURCE=700 \
    -DRINGTALLY_VERSION='"0"' -Iinclude -Isrc $(pkg-config --cflags-only-I libpq 2>/dev/null) -O1 -fanalyzer \
    -Wno-analyzer-null-dereference -Wno-analyzer-null-argument -Wno-analyzer-malloc-leak -Wno-analyzer-double-free \
    -c -o /dev/null 2>&1 | grep -E '(warning|error):' | sort -u >>"$found"

if [ -s "$found" ]; then
    cat "$found" >&2
    printf '%s findings\n' "$(wc -l <"$found")" >&2
    exit 1
fi
echo "nothing found"
