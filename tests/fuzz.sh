#!/bin/sh
# Lets libFuzzer look for inputs that break a target; prints what it covered.
#   sh tests/fuzz.sh TARGET SECONDS    a target of tests/fuzz/targets.c, or all of them, so long each
# What it learns stays in build-fuzz/corpus/TARGET; what breaks is left in build-fuzz/found/TARGET: make it a seed.
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/examples/setup.sh"
# shellcheck disable=SC2086 # a list of words
install_missing $packages_fuzz
targets=${1:?which target}
seconds=${2:?how many seconds}
out=$root/build-fuzz
tools=$(dirname "$(readlink -f "$(command -v clang)")")

cmake -S "$root" -B "$out" -G Ninja -DCMAKE_C_COMPILER=clang -DCMAKE_BUILD_TYPE=RelWithDebInfo -DRINGTALLY_FUZZ=ON \
    -DRINGTALLY_SANITIZE=address,undefined >"$out.log" 2>&1 && nice ninja -C "$out" fuzz_guided >>"$out.log" 2>&1 || {
    cat "$out.log"
    exit 1
}
rm -f "$out.log"
[ "$targets" != all ] || targets=$(sed -n 's/^    {"\([a-z]*\)",.*/\1/p' "$root/tests/fuzz/targets.c")

failed=0
for target in $targets; do
    mkdir -p "$out/corpus/$target" "$out/found/$target"
    first=
    for seed in $(sed -n "/{\"$target\",/,/}/s/.*{\"$target\",//p; /{\"$target\",/,/},/p" "$root/tests/fuzz/targets.c" |
        grep -o '"[a-z]*/[^"]*"' | tr -d '"' | sort -u); do
        cp "$root/$seed" "$out/corpus/$target/"
    done
    [ ! -d "$root/tests/fuzz/seeds/$target" ] || first=$root/tests/fuzz/seeds/$target
    # shellcheck disable=SC2086 # a path or nothing
    RINGTALLY_FUZZ=$target LLVM_PROFILE_FILE=$out/$target.profraw TZ=UTC LC_ALL=C.UTF-8 \
        nice "$out/tests/fuzz/fuzz_guided" -max_total_time="$seconds" -timeout=120 -rss_limit_mb=3000 -max_len=20000 \
        -print_final_stats=1 -verbosity=0 -artifact_prefix="$out/found/$target/" "$out/corpus/$target" $first \
        >"$out/$target.log" 2>&1 || failed=1
    grep -E 'ERROR|fuzz: |SUMMARY|runtime error|Test unit written|number_of_executed_units' "$out/$target.log" |
        sed "s/^/$target: /" || true
    grep -q 'number_of_executed_units: *[1-9]' "$out/$target.log" || {
        echo "$target: nothing was tried"
        failed=1
    }
    if "$tools/llvm-profdata" merge -o "$out/$target.profdata" "$out/$target.profraw" 2>/dev/null; then
        "$tools/llvm-cov" report "$out/tests/fuzz/fuzz_guided" -instr-profile="$out/$target.profdata" "$root/src" |
            awk -v target="$target" '$2 > 0 && $3 < $2 && $1 ~ /^src.*\.c$/ { run += $8 - $9; all += $8; print "  " $1, $10 }
                END { if (all) printf "%s: %.1f %% of the lines of what it reaches\n", target, 100 * run / all }'
    fi
done
exit "$failed"
