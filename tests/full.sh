#!/bin/sh
# The whole proof that nothing is lost: hours of what the suite does for seconds. Leaves its reports in build-full/.
#   sh tests/full.sh             all of it
#   sh tests/full.sh power ...   parts: power, soak, calls, live, tamper, hub, fuzz
set -u

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
    "$@" >"$out/$name.txt" 2>&1 || failed=1
    tail -n 12 "$out/$name.txt"
}
parts=${*:-power soak live calls tamper hub fuzz}
part power "$out/tests/power/power" 20000
part soak /usr/bin/python3 "$root/tests/soak/check_soak.py" "$out/tests/soak/soak" "$out/ringtally" 10000
part live "$out/tests/fault/fault_live"
part calls /usr/bin/python3 "$root/tests/fault/check_calls.py" "$root/examples" "$out/ringtally" \
    "$out/tests/harness/shim_faults.so" all
part tamper /usr/bin/python3 "$root/tests/outside/check_tamper.py" "$root/schema" "$root/examples" "$out/ringtally" \
    "$out/tests/fault/tamper_bytes" all
part hub /usr/bin/python3 "$root/tests/hub/check_exchange.py" "$out/ringtally" "$out/tests/feed/scribe" many 200
part fuzz sh "$root/tests/fuzz.sh" all 3600
[ "$failed" -eq 0 ] && echo "nothing was lost"
exit "$failed"
