#!/bin/sh
# An evening through the program under valgrind, from the card to the signed and verified record: no invalid
# read, no use of what was never set, nothing lost at the end.
#
# usage: valgrind.sh RINGTALLY    (a build without sanitizers: cmake --preset debug)
set -eu
program=$1
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
export XDG_CONFIG_HOME="$folder" LC_ALL=C.UTF-8 TZ=UTC

run() {
    valgrind --quiet --error-exitcode=99 --leak-check=full --show-leak-kinds=definite,indirect \
        --errors-for-leak-kinds=definite,indirect \
        "$program" --db "$folder/a.db" "$@" >"$folder/out" 2>"$folder/err" || {
        code=$?
        [ "$code" -eq "${expected:-0}" ] && return 0
        [ "$code" -ne 99 ] || printf 'found by valgrind:\n' >&2
        printf 'ringtally %s: exit %s\n' "$*" "$code" >&2
        cat "$folder/err" >&2
        exit 1
    }
}

run card load "$root/examples/card.ini"
run card show
# (On a busy machine valgrind is slower than a desk waits for the disk: what it then rescues is loaded.)
expected=1 run desk 1 --keys "$root/examples/bout-1.keys" --speed max --headless
for file in "$folder"/*rescue*; do [ ! -f "$file" ] || run import-log "$file"; done
for format in table json csv; do run counts 1 --format "$format"; done
for format in text markdown csv json html; do run sheet 1 --format "$format"; done
run sheet 1 --for red --format html
run log 1 --all --format json
run remarks 1 --format json
run marks 1 --start 01:00:00:00
run result 1
run history "Maëlle"
run key new
run sign 1 --operator "Ute Visor"
run verify
run export-log 1 -o "$folder/log.jsonl"
run drop 1 --dir "$folder/drop" --once
run backup "$folder/b.db"
expected=1 run sign 1 --operator "Ute Visor"
run reopen 1 --operator "Ute Visor" --reason "a strike was missed"
mv "$folder/a.db" "$folder/c.db"
rm -f "$folder"/a.db*
run import-log "$folder/log.jsonl"
run merge "$folder/b.db"
run verify 1
echo "nothing found"
