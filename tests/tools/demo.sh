#!/bin/sh
# demo.sh: what a technician does with a bench, played with the simulated one: calibrate both
# channels, register a bow, capture a draw and let-down live, read its figures, see its curve.
# All that it makes is in $BUILD/demo and is made anew each time.
set -eu

: "${PULLCURVE_SOURCE:=$(cd "$(dirname "$0")/../.." && pwd)}" "${BUILD:=$PULLCURVE_SOURCE/build}"
: "${PULLCURVE:=$BUILD/pullcurve}"
out=${BUILD#"$PULLCURVE_SOURCE"/}/demo
cd "$PULLCURVE_SOURCE"
rm -rf "$out"
mkdir -p "$out"
export PULLCURVE_RECORD="$out/record.db"
unset XDG_DATA_HOME PULLCURVE_PLOTS PULLCURVE_DATA

simulator=
end() {
    [ -z "$simulator" ] || kill "$simulator" 2>/dev/null || true
}
trap end EXIT
trap 'exit 130' INT
trap 'exit 141' PIPE
trap 'exit 143' TERM HUP

say() {
    printf '\n\033[1m%s\033[0m\n' "$1" | if [ -t 1 ]; then cat; else sed 's/\x1b\[[0-9]*m//g'; fi
}

# pullcurve ARGUMENT...: shows the command as one would type it, then runs it; what it prints goes
# to the file $page where that is set.
page=
pullcurve() {
    printf '$ pullcurve'
    for word in "$@"; do
        case $word in
        *[!A-Za-z0-9_./:=,%-]* | '') printf " '%s'" "$word" ;;
        *) printf ' %s' "$word" ;;
        esac
    done
    printf '%s\n' "${page:+ >$page}"
    if [ -n "$page" ]; then
        "$PULLCURVE" "$@" >"$page"
    else
        "$PULLCURVE" "$@"
    fi
}

say 'Calibrate the load cell with known weights and the encoder with known lengths.'
page=$out/loads.csv
pullcurve simulate --known-loads
page=$out/lengths.csv
pullcurve simulate --known-lengths
page=$out/calibration_force.txt
pullcurve calibrate force --bench fixtures/bench.ini --table "$out/loads.csv" \
    --u-reference '0.02 %'
page=$out/calibration_travel.txt
pullcurve calibrate travel --bench fixtures/bench.ini --table "$out/lengths.csv" \
    --u-reference '0.002 in'
page=

say 'Register the bow that is to be measured.'
pullcurve bow add 'Thicket 29' --owner 'Wren Aldersey' --serial HO-0417 --brace 6.75in \
    --peak 60:70 --draw-length 27:30 --let-off 75:85

say 'Put it on the bench. The bench is simulated and serves a port like a real controller.'
"$PULLCURVE" simulate --pty --bow hunting_compound --seed 7 >"$out/simulator.txt" &
simulator=$!
tries=0
until port=$(head -n 1 "$out/simulator.txt") && [ -n "$port" ]; do
    tries=$((tries + 1))
    if [ "$tries" -gt 100 ] || ! kill -0 "$simulator"; then
        echo 'demo: the simulated bench did not start' >&2
        exit 69
    fi
    sleep 0.1
done

say 'Draw it and let it down.'
pullcurve capture --bench fixtures/bench.ini --port "$port" --bow 'Thicket 29' --brace 6.75in \
    --note 'demonstration'

say 'Its figures and its curve.'
pullcurve measure last --png "$out/curve.png" --svg "$out/curve.svg"

say "Does it meet its maker's limits?"
pullcurve verify last || [ $? -le 2 ] # met, broken, not proven: all are answers
pullcurve history

say 'Done.'
echo "plot          $out/curve.png, $out/curve.svg"
echo "calibrations  $out/calibration_force.txt, $out/calibration_travel.txt"
echo "record        $out/record.db (name it with PULLCURVE_RECORD or --record)"
