#!/bin/sh
# run_tests.sh PROGRAM...: runs each test program, shows what it prints and counts.
# A program made with cmocka counts by its closing lines, any other as one test. The last line is
# "N passed, N failed". Ends with 1 where something failed; the others have still run.
# TEST_JOBS programs run at a time, TEST_WRAPPER goes before each, TEST_SECONDS is each one's limit.
set -u
: "${BUILD:?}" "${TEST_JOBS:=$(nproc)}" "${TEST_SECONDS:=300}" "${TEST_WRAPPER:=}"
export BUILD TEST_SECONDS TEST_WRAPPER
logs=$BUILD/tests/logs

count() { # count WORD LOG: the number that cmocka's closing line for WORD gives
    sed -n "s/^\[  *$1  *\] \([0-9][0-9]*\) test(s).*/\1/p" "$2" | tail -n 1
}

# One program: its log and "CODE PASSED FAILED SKIPPED NAME" are kept, its log is shown in one piece.
run_one() {
    name=${1#"$BUILD"/}
    base=$logs/$(printf %s "$name" | tr / _)
    began=$(date +%s.%N)
    # shellcheck disable=SC2086 # a command and its options
    timeout -k 10 "$TEST_SECONDS" $TEST_WRAPPER "$1" >"$base.log" 2>&1 </dev/null
    code=$?
    took=$(echo "$(date +%s.%N) $began" | awk '{ printf "%.1f", $1 - $2 }')
    [ "$code" -ne 124 ] || echo "stopped after $TEST_SECONDS s" >>"$base.log"
    good=$(count PASSED "$base.log") wrong=$(count FAILED "$base.log")
    if [ -z "$good" ]; then
        good=$((code == 0))
        wrong=$((code != 0))
    elif [ "$code" -ne 0 ] && [ -z "$wrong" ]; then
        wrong=1 # a set-up, a sanitizer, the wrapper
    fi
    left=$(count SKIPPED "$base.log")
    echo "$code $good ${wrong:-0} ${left:-0} $name" >"$base.count"
    (
        flock 9
        echo "== $name, $took s"
        cat "$base.log"
    ) 9>"$logs/lock"
}

if [ "$1" = --one ]; then
    run_one "$2"
    exit 0
fi

home=$BUILD/tests/home # tests never meet the user's own record
rm -rf "$home" "$logs"
mkdir -p "$home" "$logs"
export HOME="$home" LC_ALL=C.UTF-8 TZ=UTC
unset XDG_DATA_HOME PULLCURVE_RECORD PULLCURVE_PLOTS PULLCURVE_DATA CMOCKA_MESSAGE_OUTPUT
unset MAKEFLAGS MAKELEVEL MFLAGS
# A preloaded library may come before the sanitizer's; no memory is our own case to handle.
export ASAN_OPTIONS="${ASAN_OPTIONS:-verify_asan_link_order=0:allocator_may_return_null=1:exitcode=99}"
export UBSAN_OPTIONS="${UBSAN_OPTIONS:-print_stacktrace=1}"

# Programs that open ports go one by one: the number of a pseudo-terminal that one has closed may be
# given to another while the first still waits for its port to come back.
lane() { # lane JOBS: runs what it reads, so many at a time
    tr '\n' '\0' | xargs -0 -r -n 1 -P "$1" "$0" --one
}
ports='/tests/(e2e|bench)/'
printf '%s\n' "$@" | grep -E "$ports" | lane 1 &
printf '%s\n' "$@" | grep -vE "$ports" | lane "$TEST_JOBS"
wait

echo
sed -n 's/^\[  *SKIPPED  *\] \([^0-9].*\)/skipped: \1/p' "$logs"/*.log | sort -u
cat "$logs"/*.count | awk '
    { passed += $2; failed += $3; skipped += $4 }
    $1 != 0 { print "failed: " $5 }
    END {
        if (skipped) print skipped " skipped (named above)"
        print passed + 0 " passed, " failed + 0 " failed"
        exit failed > 0
    }'
