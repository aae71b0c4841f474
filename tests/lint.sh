#!/bin/sh
# Holds the tree to its own rules: arrows between rooms, libraries in their room, headers that stand alone, file
# lengths, banned functions. Prints each offence and fails.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root" || exit 1
offences=0

offend() {
    printf '%s\n' "$*" >&2
    offences=$((offences + 1))
}

# nobody_but PATTERN ROOM...: only these rooms include it.
nobody_but() {
    pattern=$1
    shift
    for file in $(grep -lE "^#include $pattern" -r src include); do
        allowed=
        for room in "$@"; do
            case $file in src/"$room"/*) allowed=yes ;; esac
        done
        [ -n "$allowed" ] || offend "$file includes $pattern"
    done
}
nobody_but '<(ncurses|curses|form|menu|panel)' screen
nobody_but '<sqlite3' log
nobody_but '<microhttpd' feed
nobody_but '<jansson' log sheet feed
nobody_but '<ini\.h' base
nobody_but '<csv\.h' bout
nobody_but '<utf8proc' base
nobody_but '<sha2' base

# may_include ROOM HEADER-OWNERS...: what a room includes belongs to itself or to a room below it.
owner_of() {
    name=$1
    for room in base bout tally log desk sheet screen feed; do
        [ -e "src/$room/$name.c" ] && { echo "$room"; return; }
    done
    case $name in
    embedded | error | buf | text | when | ini | file) echo base ;;
    panel) echo screen ;;
    sheet | counts) echo sheet ;;
    *) echo unknown ;;
    esac
}
below() {
    case $1 in
    base) echo base ;;
    bout) echo base bout ;;
    tally) echo base bout tally ;;
    desk) echo base bout tally desk ;;
    log) echo base bout tally log ;;
    sheet) echo base bout tally sheet ;;
    screen) echo base bout tally desk screen ;;
    feed) echo base bout tally log sheet feed ;;
    esac
}
for room in base bout tally desk log sheet screen feed; do
    [ -d "src/$room" ] || continue
    for file in src/"$room"/*.[ch]; do
        for name in $(sed -n 's|^#include "ringtally/\([a-z_]*\)\.h".*|\1|p' "$file"); do
            owner=$(owner_of "$name")
            case " $(below "$room") " in
            *" $owner "*) ;;
            *)
                # The panel shows the keeper's state, a plain value of its header.
                [ "$room/$name" = screen/keeper ] || offend "$file includes $name.h of room $owner"
                ;;
            esac
        done
    done
done

for file in $(find src include tests -name '*.[ch]') $(find tests examples -name '*.sh' -o -name '*.py'); do
    lines=$(wc -l <"$file")
    [ "$lines" -le 620 ] || offend "$file has $lines lines"
done

for file in $(find src -name '*.[ch]'); do
    grep -nE '\b(gets|strcat|sprintf|vsprintf|strncpy|strtok|atof|system|alloca)\(' "$file" /dev/null >&2 &&
        offend "$file calls a banned function"
done

for header in include/ringtally/*.h; do
    "${CC:-cc}" -std=c17 -D_POSIX_C_SOURCE=200809L -Wall -Wextra -Wpedantic -Wshadow -Werror -Iinclude \
        -fsyntax-only -x c "$header" || offend "$header does not stand alone"
done

if [ "$offences" -gt 0 ]; then
    printf '%s offences\n' "$offences" >&2
    exit 1
fi
echo "no offence"
