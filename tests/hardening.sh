#!/bin/sh
# Holds built programs to what makes a fault harder to exploit, by what binutils read out of them.
#
# usage: hardening.sh PROGRAM...
set -u
failed=0

want() {
    what=$1
    shift
    if ! "$@" >/dev/null 2>&1; then
        printf '%s: %s\n' "$program" "$what is missing" >&2
        failed=1
    fi
}

has() { # has TEXT PATTERN
    printf '%s\n' "$1" | grep -qE -- "$2"
}

for program in "$@"; do
    [ -f "$program" ] || { printf '%s: not there\n' "$program" >&2 && exit 1; }
    header=$(readelf -hW "$program")
    segments=$(readelf -lW "$program")
    dynamic=$(readelf -dW "$program")
    symbols=$(readelf --dyn-syms -W "$program")
    want "position independence" has "$header" 'Type: +DYN'
    want "RELRO" has "$segments" 'GNU_RELRO'
    want "binding at the start (full RELRO)" has "$dynamic" 'FLAGS.*(BIND_NOW|NOW)'
    want "a stack that is not executable" has "$segments" 'GNU_STACK.* RW '
    want "a segment that is never writable and executable" \
        sh -c '! printf "%s\n" "$1" | grep -qE "LOAD.* RWE "' - "$segments"
    want "the stack protector" has "$symbols" '__stack_chk_fail'
    want "fortified functions" has "$symbols" '__(snprintf|vsnprintf|memcpy|read|printf|fprintf)_chk'
    case $(uname -m) in
    x86_64)
        # (The note that would tell the kernel so is dropped by the linker, since Debian's own start files are built
        # without; so the instructions themselves are looked for.)
        code=$(objdump -d --no-show-raw-insn "$program")
        want "control-flow protection" has "$code" 'endbr64'
        want "probes of large stacks" has "$code" '(or|orq|orl) +\$0x0,(0x[0-9a-f]+)?\(%[re]sp\)'
        ;;
    esac
    # No path of a library that somebody else may put there.
    want "absence of RPATH" sh -c '! printf "%s\n" "$1" | grep -qE "R(UN)?PATH"' - "$dynamic"
done
[ "$failed" -eq 0 ] && echo "hardened: $*"
exit "$failed"
