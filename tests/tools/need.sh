#!/bin/sh
# need.sh SET...: sees to it that the Debian packages of these sets are installed.
# Sets: run (build and run the program), check (its tests), ci (what only .ci/run needs).
# Does nothing where nothing is missing. Ends with 69 where something is missing and can't be
# installed from here. "package=command" counts as there when the command is.
set -eu

run='gcc=gcc make=make pkg-config=pkg-config libc6-dev libserialport-dev libgsl-dev
     libsqlite3-dev libjansson-dev libinih-dev libncurses-dev gnuplot-nox=gnuplot
     fonts-dejavu-core'
check='libcmocka-dev python3-numpy python3-scipy units=units locales mandoc=mandoc
       poppler-utils=pdftotext'
ci='clang=clang clang-format=clang-format cppcheck=cppcheck shellcheck=shellcheck valgrind=valgrind'

wanted=
for set in "$@"; do
    case $set in
    run) wanted="$wanted $run" ;;
    check) wanted="$wanted $check" ;;
    ci) wanted="$wanted $ci" ;;
    *)
        echo "need.sh: there is no set '$set'" >&2
        exit 64
        ;;
    esac
done

# "name=command" -> "name"
# shellcheck disable=SC2086 # a list of words
names=$(printf '%s\n' $wanted | sed 's/=.*//')
# shellcheck disable=SC2016,SC2086 # dpkg-query's own ${}; a list of words
there=$(dpkg-query -W -f '${Package} ${db:Status-Status}\n' $names 2>/dev/null |
    sed -n 's/ installed$//p') || there=

missing=
for entry in $wanted; do
    name=${entry%%=*}
    case "
$there
" in *"
$name
"*) continue ;;
    esac
    case $entry in *=*)
        if command -v "${entry#*=}" >/dev/null; then continue; fi
        ;;
    esac
    missing="$missing $name"
done
[ -n "$missing" ] || exit 0

give_up() {
    echo "pullcurve: $1. These Debian packages (or what your system calls them) are needed:" >&2
    echo "   $missing" >&2
    echo "Install them, then run this again (NEED=true leaves this check out)." >&2
    exit 69
}

command -v apt-get >/dev/null || give_up "there is no apt-get here"
if [ "$(id -u)" -eq 0 ]; then
    as_root=
elif ! command -v sudo >/dev/null; then
    give_up "installing needs root or sudo"
elif [ -t 0 ]; then
    as_root=sudo
else
    as_root='sudo -n'
fi

echo "Installing with apt-get:$missing"
apt() {
    # shellcheck disable=SC2086 # $as_root is none, one or two words
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=120 \
        -o Acquire::Retries=3 "$@" </dev/null >&2
}
apt update || give_up "apt-get update failed"
# shellcheck disable=SC2086 # a list of words
apt install -y --no-install-recommends $missing || give_up "apt-get install failed"
