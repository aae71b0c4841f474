#!/bin/sh
# Changes single lines of the source on purpose, one at a time, and looks whether a test notices.
#   sh tests/mutate.sh [COUNT [SEED]]      200 mutations, seed 1, where nothing is said
# Works on a copy; prints what survived and the kill rate. Takes some ten seconds a mutation.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
copy=$(mktemp -d)
trap 'rm -rf "$copy"' EXIT INT TERM
git -C "$root" archive HEAD | tar -x -C "$copy"
exec /usr/bin/python3 "$root/tests/mutate.py" "$copy" "${1:-200}" "${2:-1}"
