#!/bin/sh
# check_pure.sh: the archive of the curve room knows no outside world and keeps no state.
#
# Every symbol that it leaves open must be base's, libm's, GSL's (but for what prints, reads files
# or asks the environment) or one of the few below; none that it holds may be writable.
set -u
lib=$BUILD/libcurve.a
base=$BUILD/libbase.a
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

library() { # library NAME: the path of a shared library as the compiler finds it
    "${CC:-cc}" -print-file-name="$1"
}

{
    nm --defined-only "$lib" "$base" 2>/dev/null | awk 'NF == 3 && $2 ~ /[A-Z]/ { print $3 }'
    nm -D --defined-only "$(library libm.so.6)" "$(library libgsl.so)" |
        awk 'NF == 3 { sub(/@.*/, "", $3); print $3 }' |
        grep -vE '^gsl_.*_(fprintf|fscanf|fread|fwrite|env_setup)$|^gsl_(message|stream_.*|error)$'
    # memory, text, order, and what assert and the compiler's own checks call
    printf '%s\n' memcpy memmove memset memcmp strlen strcmp strncmp strchr strrchr strstr \
        strcasecmp strncasecmp calloc malloc realloc free qsort bsearch abs labs llabs \
        __assert_fail __stack_chk_fail __memcpy_chk __memmove_chk __memset_chk _GLOBAL_OFFSET_TABLE_
} | sort -u >"$work/allowed"

# What base itself does outside (reading files, printing when memory is out) is not curve's to use.
for forbidden in buf_read_file buf_write_file buf_write_stdout ini_open; do
    sed -i "/^$forbidden\$/d" "$work/allowed"
done

nm -u "$lib" 2>/dev/null | awk '$1 == "U" { print $2 }' | sort -u >"$work/open"
[ -s "$work/open" ] || {
    echo "check_pure: $lib has no open symbols; is it there?"
    exit 1
}
comm -23 "$work/open" "$work/allowed" >"$work/impure"
sed 's/^/  curve is pure: it may not call /' "$work/impure"

objdump -t "$lib" | awk '($4 == ".bss" || $4 == ".data" || $4 == "*COM*" || $3 == "*COM*") &&
    $NF != $4 { print "  curve keeps no state: " $NF }' | sort -u >"$work/state"
cat "$work/state"
[ ! -s "$work/impure" ] && [ ! -s "$work/state" ]
