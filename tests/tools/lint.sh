#!/bin/sh
# lint.sh: what can be said about the sources without running them.
set -u
cd "$(dirname "$0")/../.." || exit 1
bad=0
step() {
    echo "-- $1"
    shift
    "$@" || bad=1
}
# shellcheck disable=SC2046 # names without blanks
step clang-format clang-format --dry-run --Werror $(find src tests -name '*.[ch]')
step cppcheck cppcheck -q --std=c11 --error-exitcode=1 --inline-suppr -j "$(nproc)" -Isrc \
    --enable=warning,performance,portability --suppress=missingIncludeSystem \
    --suppress=constStatement -D__GNUC__ -DPULLCURVE_VERSION='""' src
step shellcheck shellcheck .ci/run tests/tools/*.sh
step mandoc mandoc -Tlint -W style docs/pullcurve.1
exit $bad
