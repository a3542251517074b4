#!/bin/sh
# The studies behind docs/validation: coverage of the intervals and detection of stop stagger, on the
# four simulated bows. Called by `make coverage-study`; CAPTURES sets how many captures a bow.
# Writes docs/validation.md, docs/validation-coverage.md and docs/validation-stagger.md.
set -eu
bin=$BUILD/tests/study
root=$PULLCURVE_SOURCE
captures=${CAPTURES:-2000}
stagger_captures=${STAGGER_CAPTURES:-200}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
bows="hunting_compound target_compound round_wheel recurve"

# Two at a time: the studies of a pair of bows run side by side.
pair() {
    "$bin/$1" "$root/fixtures/bows/$2.ini" "$4" > "$work/$1.$2" &
    first=$!
    "$bin/$1" "$root/fixtures/bows/$3.ini" "$4" > "$work/$1.$3"
    wait "$first"
}

{
    cat <<EOF
# Validation

What the program computes, held against truth from outside of it. Made by \`make coverage-study\`.
Sources: handbook values and standards as named; "memory" marks a published value that was quoted
from memory and recomputed; "derived" one computed from published inputs. Differences of published
figures are within the digits they are printed with. Monte Carlo rows use 10^6 trials, seed fixed.

Each row is also held by a test (tests/curve, tests/bench), which names its source beside the check.
numpy and scipy serve as independent references, run live by the tests: Savitzky-Golay filter and its
derivative, weighted polynomials and their covariance (test_smooth, test_poly), straight lines,
errors in both variables, F and t distributions, risks (test_calibration, test_conformity,
test_interval), integrals (test_measure). Unit factors are held against GNU units (test_units).

- [validation-coverage.md](validation-coverage.md): do the 95 % intervals hold the truth?
- [validation-stagger.md](validation-stagger.md): when is a stop stagger found, when falsely?
- [validation-smoothing.md](validation-smoothing.md): ways to smooth, compared.
- [validation-lag.md](validation-lag.md): a lag between force and travel, found and taken out.

| case | source | expected | got | difference |
|---|---|---|---|---|
EOF
    "$bin/truth" "$root"
} > "$root/docs/validation.md"

pair coverage hunting_compound target_compound "$captures"
pair coverage round_wheel recurve "$captures"
{
    cat <<EOF
# Coverage of the 95 % intervals

Made by \`make coverage-study\` ($captures simulated captures a bow, one pull each, 2000 trials a
capture, seed 1). Each capture has its own hand, noise (0.05 lbf, 0.002 in, 80 readings a second),
quantisation, calibrations of force and travel from known loads and lengths with noise, common error
of the reference loads (0.03 %), and error of the brace height as entered (0.5 mm). The truth comes
from the equilibrium model itself. Held: share of captures whose interval holds the truth; sd: spread
of the figure over the captures; mean u: what the program said. Figures outside of 93-97 % are marked.

| bow | figure | truth | captures | bias | sd | mean u | held, % | |
|---|---|---|---|---|---|---|---|---|
EOF
    for bow in $bows; do cat "$work/coverage.$bow"; done
} > "$root/docs/validation-coverage.md"

pair stagger hunting_compound target_compound "$stagger_captures"
"$bin/stagger" "$root/fixtures/bows/round_wheel.ini" "$stagger_captures" > "$work/stagger.round_wheel"
{
    cat <<EOF
# Stop stagger: detection and false alarms

Made by \`make coverage-study\` ($stagger_captures simulated captures a row, press of 20 lbf into the
wall, force noise 0.05 lbf). Rows with a stagger of 0 give the false alarms. Told: captures in which
the program said that it looked and saw one slope, with the mean of the smallest stagger that it said
could show; in the rest there were too few readings on the rise to look. A stagger that is there and
not found (a short press, few readings between the two landings) is common: what was not found is not
proven absent, and the program says so. What it claims is right within the spread shown.

| bow | position noise, in | stagger, in | found, % | mean found, in | sd, in | told, % | smallest, in |
|---|---|---|---|---|---|---|---|
EOF
    for bow in hunting_compound target_compound round_wheel; do cat "$work/stagger.$bow"; done
} > "$root/docs/validation-stagger.md"
echo "docs/validation.md, docs/validation-coverage.md and docs/validation-stagger.md are written"
