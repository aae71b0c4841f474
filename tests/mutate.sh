#!/bin/sh
# Changes single lines of the source on purpose, one at a time, and looks whether a test notices.
#   sh tests/mutate.sh [COUNT [SEED [REPORT]]]     200 mutations, seed 1, where nothing is said;
#                                                  with REPORT only those that survived in it
# Works on a copy of what is committed; prints each, a table of rooms, and what survived.
# Two to three seconds a mutation that is noticed, up to some minutes one that survives.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
copy=$(mktemp -d "${TMPDIR:-/tmp}/mutate.XXXXXX")
trap 'rm -rf "$copy"' EXIT
trap 'exit 1' INT TERM
git -C "$root" archive HEAD | tar -x -C "$copy"
/usr/bin/python3 "$root/tests/mutate.py" "$copy" "${1:-200}" "${2:-1}" "${3:-}"
