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
nobody_but '<libpq' hub
nobody_but '<zlib' feed
nobody_but '<curl' feed
nobody_but '<qrencode' feed
nobody_but '<jansson' base log sheet feed player
nobody_but '<ini\.h' base
nobody_but '<csv\.h' bout
nobody_but '<utf8proc' base
nobody_but '<sodium' base

# The rooms, each with those that it may include besides itself. The include path is the owner:
# "ringtally/ROOM/x.h" is what a room promises, "ROOM/x.h" is its own and for nobody else.
rooms='base:
bout: base
stats: base
tally: base bout
insight: base bout stats tally
desk: base bout tally insight
log: base bout tally
sheet: base bout stats tally insight
data: base bout tally log sheet
player: base
screen: base bout stats tally insight desk
console: base bout tally insight desk log data screen sheet player
feed: base bout stats tally insight log sheet data
hub: base bout log
cli: base bout stats tally insight desk log sheet data screen console player feed hub'

for room in $(ls src include/ringtally); do
    [ -d "src/$room" ] || [ -d "include/ringtally/$room" ] || continue
    printf '%s\n' "$rooms" | grep -q "^$room:" || offend "$room is no room that this page knows"
done
for file in $(find src include -name '*.[ch]'); do
    room=${file#src/}
    room=${room#include/ringtally/}
    room=${room%%/*}
    may=" $room $(printf '%s\n' "$rooms" | sed -n "s/^$room://p") "
    for name in $(sed -n 's|^#include "\(.*\)"|\1|p' "$file"); do
        case $name in
        ringtally/*/*)
            owner=${name#ringtally/}
            owner=${owner%%/*}
            case $may in *" $owner "*) ;; *) offend "$file includes $name" ;; esac
            ;;
        */*) [ "${name%%/*}" = "$room" ] || offend "$file includes $name, which is private" ;;
        *) offend "$file includes $name: the path does not say the room" ;;
        esac
    done
done

# A file's name says what it is, wherever it is spoken of. (A source and its own headers share one.)
for kind in c h; do
    for name in $(find src include -name "*.$kind" | sed 's|.*/||' | sort | uniq -d); do
        offend "two files are called $name: $(find src include -name "$name" | tr '\n' ' ')"
    done
done

for file in $(find src include -name '*.[ch]'); do
    head -n 1 "$file" | grep -q "^/\* ${file##*/}: " || offend "$file does not open with what it is"
done

for file in $(find src include tests -name '*.[ch]') $(find tests examples -name '*.sh' -o -name '*.py'); do
    lines=$(wc -l <"$file")
    [ "$lines" -le 620 ] || offend "$file has $lines lines"
done

for file in $(find src -name '*.[ch]'); do
    grep -nE '\b(gets|strcpy|strcat|sprintf|vsprintf|strncpy|strtok|atof|system|alloca)\(' "$file" /dev/null >&2 &&
        offend "$file calls a banned function"
done

# What programs leave behind is not the tree's: nothing at its root but these.
for name in $(git ls-files 2>/dev/null | cut -d/ -f1 | sort -u); do
    case $name in
    .ci | .clang-format | .clang-tidy | .gitignore | CMakeLists.txt | CMakePresets.json | DEVELOPERS.md | README.md) ;;
    examples | include | schema | shared | src | tests) ;;
    *) offend "$name is left behind, and kept in the tree" ;;
    esac
done

# Every word that a command takes is in its help.
for word in $(grep -ohE '\{"--?[a-z][a-z-]*"' src/cli/*.c | tr -d '{"' | sort -u); do
    grep -qE -- "(^|[^a-z-])$word([^a-z-]|\$)" src/cli/main.c || offend "$word is in no help of src/cli/main.c"
done

# The map in the contributor's guide names every room, and no other.
for room in $(cd src && ls -d */ | tr -d /); do
    grep -q "^src/$room/ " DEVELOPERS.md || offend "DEVELOPERS.md's map has no src/$room/"
done
for room in $(sed -n 's|^src/\([a-z]*\)/ .*|\1|p' DEVELOPERS.md); do
    [ -d "src/$room" ] || offend "DEVELOPERS.md's map names src/$room/, which is not there"
done

for header in include/ringtally/*/*.h; do
    "${CC:-cc}" -std=c17 -D_POSIX_C_SOURCE=200809L -Wall -Wextra -Wpedantic -Wshadow -Werror -Iinclude \
        -fsyntax-only -x c "$header" || offend "$header does not stand alone"
done

if [ "$offences" -gt 0 ]; then
    printf '%s offences\n' "$offences" >&2
    exit 1
fi
echo "no offence"
