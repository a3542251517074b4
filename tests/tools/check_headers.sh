#!/bin/sh
# check_headers.sh: each header compiles alone, with a guard that fits its path.
set -u
cd "$PULLCURVE_SOURCE" || exit 1
flags=$(pkg-config --cflags libserialport gsl sqlite3 jansson inih)
bad=0
for header in $(find src -name '*.h' | sort) tests/check.h; do
    # shellcheck disable=SC2086 # a list of options
    "${CC:-cc}" -std=c17 -D_DEFAULT_SOURCE -D_XOPEN_SOURCE=700 -Wall -Wextra -Wpedantic -Wundef \
        -Werror -Isrc -Itests $flags -fsyntax-only -x c -include "$header" /dev/null || bad=1
    guard=PULLCURVE_$(printf %s "${header#src/}" | tr 'a-z/.' 'A-Z__')
    grep -q "^#ifndef $guard\$" "$header" || {
        echo "$header: the guard is not $guard"
        bad=1
    }
done
exit $bad
