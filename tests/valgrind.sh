#!/bin/sh
# An evening under valgrind: the card, desks that play key scripts, two desks compared, every sheet, signature and
# check, export, import, merge, the feed answering, a desk at a terminal. No invalid read, no use of what was never
# set, nothing lost at the end. Minutes.
#
# usage: valgrind.sh [BUILD]    (a build with its tests and without sanitizers; none: makes that of the preset debug)
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
build=${1:-}
if [ -z "$build" ]; then
    build=$root/build-debug
    (cd "$root" && cmake --preset debug >/dev/null && ninja -C "$build" ringtally ringtally-feed screen_notes)
fi
build=$(CDPATH='' cd -- "$build" && pwd)
folder=$(mktemp -d)
feed=
trap '[ -z "$feed" ] || kill "$feed" 2>/dev/null; rm -rf "$folder"' EXIT
export XDG_CONFIG_HOME="$folder" LC_ALL=C.UTF-8 TZ=UTC

# Programs of the same names that run under valgrind, each process with a log of its own: empty where all is well.
mkdir "$folder/bin" "$folder/log"
for name in ringtally ringtally-feed; do
    cat >"$folder/bin/$name" <<END
#!/bin/sh
exec valgrind --quiet --log-file=$folder/log/%p --leak-check=full --show-leak-kinds=definite,indirect \\
    --errors-for-leak-kinds=definite,indirect "$build/$name" "\$@"
END
    chmod +x "$folder/bin/$name"
done
ringtally=$folder/bin/ringtally
processes=0

clean() { # clean WHAT
    cat "$folder"/log/* >"$folder/said" 2>/dev/null || true
    processes=$((processes + $(ls "$folder/log" | wc -l)))
    rm -f "$folder"/log/*
    if [ -s "$folder/said" ]; then
        printf 'found by valgrind in %s:\n' "$1" >&2
        cat "$folder/said" >&2
        exit 1
    fi
}

run() {
    code=0
    "$ringtally" --db "$folder/a.db" "$@" >"$folder/out" 2>"$folder/err" || code=$?
    clean "ringtally $*"
    if [ "$code" -ne "${expected:-0}" ] && { [ "$code" -ne 0 ] || [ -z "${lenient:-}" ]; }; then
        printf 'ringtally %s: exit %s\n' "$*" "$code" >&2
        cat "$folder/err" >&2
        exit 1
    fi
}

play() { # play OPERATOR SCRIPT [OPTION]...
    operator=$1
    script=$2
    shift 2
    # (On a busy machine valgrind is slower than a desk waits for the disk: what it then rescues is loaded.)
    lenient=yes expected=1 run desk 1 --operator "$operator" --keys "$root/examples/$script" --speed max --headless "$@"
    for file in "$folder"/*rescue*; do
        [ ! -f "$file" ] || { run import-log "$file" && rm -f "$file"; }
    done
}

echo "== an evening, command by command"
run card load "$root/examples/card.ini"
run card show
run card show --format json
play ada bout-1.keys --record "$folder/again.keys"
play bo bout-1-second.keys --shadow
for format in table json csv; do run counts 1 --format "$format"; done
for format in text markdown csv json html; do
    run sheet 1 --format "$format"
    run sheet 1 --round 2 --format "$format"
done
for format in text html; do run sheet 1 --for red --format "$format"; done
for format in table csv json; do run log 1 --all --format "$format"; done
for format in table json; do run agree 1 --desk ada --desk bo --format "$format"; done
for format in text json; do run remarks 1 --format "$format"; done
for format in webvtt csv edl json; do run marks 1 --start 01:00:00:00 --format "$format"; done
run result 1
run result 1 --format json
run scores dump 1
run history "Maëlle"
run rules list
run keys list
run practice fingers --seconds 10 --seed 1 --keys "$folder/again.keys"
run key new
run sign 1 --operator "Ute Visor"
run verify
run export-log 1 -o "$folder/log.jsonl"
run drop 1 --dir "$folder/drop" --once
run backup "$folder/b.db"
expected=1 run sign 1 --operator "Ute Visor"
run reopen 1 --operator "Ute Visor" --reason "a strike was missed"

echo "== the feed, answering"
"$folder/bin/ringtally-feed" --db "$folder/a.db" --listen 127.0.0.1:0 >"$folder/url" 2>"$folder/err" &
feed=$!
deadline=$(($(date +%s) + 60))
until [ -s "$folder/url" ]; do
    [ "$(date +%s)" -lt "$deadline" ] && kill -0 "$feed" || { cat "$folder/err" >&2 && exit 1; }
done
url=$(cat "$folder/url")
url=${url%/}
bout=v1/bouts/saltglass-4/1
for path in "" v1/bouts "$bout/counts" "$bout/counts?since=round:2" "$bout/state" "$bout/remarks" "$bout/log" \
    "$bout/marks" v1/now/counts v1/health ../../etc/passwd nothing "$bout/counts?round=99"; do
    curl --silent --show-error --path-as-is --compressed --max-time 60 -o "$folder/answer" "$url/$path"
done
curl --silent --max-time 60 -X POST --data x -o "$folder/answer" "$url/$bout/counts" || true
# A stream from the log's start, closed by the client in its midst.
curl --silent --no-buffer --max-time 5 -H 'Last-Event-ID: 0' -o "$folder/events" "$url/$bout/events" || true
grep -q '^event: ' "$folder/events" || { echo "the stream told nothing" >&2 && exit 1; }
kill -TERM "$feed"
wait "$feed"
feed=
clean ringtally-feed

echo "== another machine: import, merge, check"
mv "$folder/a.db" "$folder/c.db"
rm -f "$folder"/a.db*
run import-log "$folder/log.jsonl"
run merge "$folder/b.db"
run verify 1

echo "== a desk at a terminal"
RINGTALLY_PROGRAM=$ringtally "$build/tests/screen/screen_notes" >"$folder/out" 2>&1 || {
    cat "$folder/out" >&2
    exit 1
}
clean screen_notes
echo "nothing found in $processes processes"
