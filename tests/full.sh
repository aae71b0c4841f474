#!/bin/sh
# The whole proof that nothing is lost: hours of what the suite does for seconds. Leaves its reports in build-full/.
#   sh tests/full.sh             all of it
#   sh tests/full.sh power ...   parts: power, soak, live, calls, tamper, hub, fuzz;
#                                warnings, analyse, presets, valgrind
#   sh tests/full.sh short ...   the first seven in minutes: that each runs, and judges what it ran
set -u

parts=
short=
all="power soak live calls tamper hub fuzz"
if [ "${1:-}" = short ]; then
    short=1
    shift
    parts=${*:-$all}
fi
all="$all warnings analyse presets valgrind"
parts=${parts:-${*:-$all}}
for name in $parts; do
    case " $all " in *" $name "*) ;; *)
        echo "no such part: $name; there are $all"
        exit 2
        ;;
    esac
done
# size FULL SHORT
size() {
    [ -z "$short" ] && echo "$1" || echo "$2"
}

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
out=$root/build-full
cmake -S "$root" -B "$out" -G Ninja -DCMAKE_BUILD_TYPE=RelWithDebInfo >"$out.log" 2>&1 &&
    ninja -C "$out" power soak fault_live shim_faults tamper_bytes scribe ringtally ringtally-feed ringtally-hub >>"$out.log" 2>&1 || {
    cat "$out.log"
    exit 1
}
rm -f "$out.log"
export TZ=UTC LC_ALL=C.UTF-8
failed=0

# part NAME COMMAND...
part() {
    name=$1
    shift
    case " $parts " in *" $name "*) ;; *) return ;; esac
    printf '== %s: %s\n' "$name" "$*"
    "$@" >"$out/$name.txt" 2>&1 || {
        failed=1
        echo "$name: FAILED"
    }
    tail -n 12 "$out/$name.txt"
}

# All that there is, by both compilers at each optimisation: -O0 sees less than half of what they warn of.
warnings() {
    for compiler in gcc clang; do
        for type in Debug RelWithDebInfo Release; do
            cmake -S "$root" -B "$out/$compiler-$type" -G Ninja -DCMAKE_C_COMPILER="$compiler" \
                -DCMAKE_BUILD_TYPE="$type" && ninja -C "$out/$compiler-$type" -k 0 || return 1
        done
    done
}

# The sanitizers that tests/run.sh does not run.
presets() {
    for preset in undefined leak memory; do
        (cd "$root" && cmake --workflow --preset "$preset") || return 1
    done
}

part power "$out/tests/power/power" "$(size 20000 600)"
part soak /usr/bin/python3 "$root/tests/soak/check_soak.py" "$out/tests/soak/soak" "$out/ringtally" "$(size 10000 100)"
part live env RINGTALLY_MOMENTS="$(size 300 20)" "$out/tests/fault/fault_live"
part calls /usr/bin/python3 "$root/tests/fault/check_calls.py" "$root/examples" "$out/ringtally" \
    "$out/tests/harness/shim_faults.so" "$(size all 200)"
part tamper /usr/bin/python3 "$root/tests/outside/check_tamper.py" "$root/schema" "$root/examples" "$out/ringtally" \
    "$out/tests/fault/tamper_bytes" "$(size all 120)"
part hub /usr/bin/python3 "$root/tests/hub/check_exchange.py" "$out/ringtally" "$out/tests/feed/scribe" many "$(size 200 5)"
part fuzz sh "$root/tests/fuzz.sh" all "$(size 3600 10)"
part warnings warnings
part analyse sh "$root/tests/analyse.sh"
part presets presets
part valgrind sh "$root/tests/valgrind.sh"
[ "$failed" -eq 0 ] && echo "nothing was lost, and nothing found: $parts"
exit "$failed"
