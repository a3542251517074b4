#!/bin/sh
# check_tree.sh: the rules of the house that a search can see. Prints each breach.
set -u
cd "$PULLCURVE_SOURCE" || exit 1

breaches=$(mktemp)
trap 'rm -f "$breaches"' EXIT

# no RULE PATTERN PATH...: lines of the C files under PATH that match PATTERN break RULE.
no() {
    rule=$1 pattern=$2
    shift 2
    grep -rnE --include='*.[ch]' -e "$pattern" "$@" | sed "s|^|$rule: |" >>"$breaches"
}

# Who may know whom: the data flows bench -> curve -> show, verbs know all.
no 'base knows base alone' '#include "(bench|record|curve|show|verbs)/' src/base
no 'bench knows base alone' '#include "(record|curve|show|verbs)/' src/bench
no 'record knows base alone' '#include "(bench|curve|show|verbs)/' src/record
no 'curve knows base alone' '#include "(bench|record|show|verbs)/' src/curve
no 'show knows curve and base' '#include "(bench|record|verbs)/' src/show
no 'curve is pure' '#include <(stdio|time|unistd|fcntl|sqlite3|libserialport|ncurses|errno|signal|pthread)' \
    src/curve
no 'curve is pure' '#include <(sys|arpa|netinet)/' src/curve

# One place for each outside thing.
no 'SQLite lives in record' '\bsqlite3_' src/base src/bench src/curve src/show src/verbs src/main.c
no 'the serial library lives in bench' '\bsp_[a-z]+\(' src/base src/record src/curve src/show src/verbs
no 'rooms do not print' '\b(printf|puts|putchar|vprintf|perror) ?\(' src/base src/bench src/record \
    src/curve src/show
no 'no shell' '\b(system|popen)\(' src
no 'numbers go through base/number' '\b(atoi|atol|atof|sscanf|fscanf) ?\(' src
no 'no unbounded copies' '\b(strcpy|strcat|sprintf|vsprintf|gets|strtok) ?\(' src
no 'the locale of numbers is never set' 'setlocale *\( *LC_(ALL|NUMERIC)' src
no 'floats lose NAN in cmocka 1.1.5' '\bassert_float_(not_)?equal\(' tests

# What is referred to is there.
grep -rhoE 'docs/[A-Za-z0-9_.-]+\.(md|1)' src tests fixtures plots ./*.md | sort -u |
    while read -r document; do
        [ -e "$document" ] || echo "referred to, but not there: $document" >>"$breaches"
    done
for page in README.md DEVELOPERS.md docs/*.md; do
    grep -oE '\]\([^)#:]+' "$page" | sed 's/^](//' | while read -r link; do
        [ -e "$(dirname "$page")/$link" ] || echo "$page: no such link: $link" >>"$breaches"
    done
done

# What stands at the top.
for entry in *; do
    case $entry in
    README.md | DEVELOPERS.md | Makefile | LICENSE | src | tests | fixtures | plots | docs) ;;
    build | build-*) ;;
    *) echo "top of the tree: $entry does not belong here" >>"$breaches" ;;
    esac
done

# Files to about 600 lines, functions to 60.
find src -name '*.[ch]' -exec awk '
    FNR == 1 { begin = 0 }
    /^{/ { begin = FNR }
    /^}/ && begin && FNR - begin > 60 {
        print "long function: " FILENAME ":" begin ": " FNR - begin " lines"; begin = 0 }
    FNR == 651 { print "long file: " FILENAME }' {} + >>"$breaches"

sed 's/^/  /' "$breaches"
[ ! -s "$breaches" ]
