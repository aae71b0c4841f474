#!/bin/sh
# Holds built programs to what makes a fault harder to exploit, by what binutils read out of them. (What is built where
# nothing is said of the kind of build, RelWithDebInfo, has all of it; Debug all but the fortified functions, which glibc
# has for optimised code only; builds with sanitizers neither.)
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

probes() {
    printf '%s\n' "$1" | awk '/sub +\$0x1000,%rsp/ { taken = NR }
        /(or|mov)[lq]? +\$0x0,(0x[0-9a-f]+)?\(%rsp\)/ && NR == taken + 1 { touched = 1 }
        END { exit !touched }'
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
        # A page of stack is taken and touched at once: gcc by an or, clang by a mov.
        want "probes of large stacks" probes "$code"
        ;;
    esac
    # No path of a library that somebody else may put there.
    want "absence of RPATH" sh -c '! printf "%s\n" "$1" | grep -qE "R(UN)?PATH"' - "$dynamic"
done
[ "$failed" -eq 0 ] && echo "hardened: $*"
exit "$failed"
