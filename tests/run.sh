#!/bin/sh
# Sets up, builds and tests everything, from any folder.
#   sh tests/run.sh          the tests, with one of ten deliberate faults; the exit status and last lines are ctest's
#   sh tests/run.sh faults   every deliberate fault
#   sh tests/run.sh asan     the same with the address and undefined-behaviour sanitizers
#   sh tests/run.sh bench    the figures: each program of tests/bench_figures
#   sh tests/run.sh tidy     clang-format and clang-tidy over our sources
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root"
what=${1:-test}
case $what in
    test | faults | bench) preset=release ;;
    asan) preset=asan ;;
    tidy) preset=tidy ;;
    *)
        echo "usage: sh $0 [faults|asan|bench|tidy]" >&2
        exit 2
        ;;
esac
cores=$(nproc)
# Many tests wait rather than compute, so that two at a time do no harm on one core; more than four would disturb those
# that measure time.
at_once=$((cores < 2 ? 2 : cores > 4 ? 4 : cores))

say() { printf '\n== %s\n' "$*"; }

# SciPy is the stranger that slopes are checked against. Debian's package cannot be installed beside Boost 1.81 (see
# install-dependencies.sh), but needs nothing of what it asks for there: it is unpacked here.
unpack_scipy() {
    python="$root/build/python"
    packages="$python/usr/lib/python3/dist-packages"
    if ! /usr/bin/python3 -c 'import scipy' 2>/dev/null && [ ! -d "$packages/scipy" ]; then
        say "Unpacking SciPy into build/python"
        rm -rf "$python"
        mkdir -p "$python"
        # The download runs as whoever runs this, because apt's own user may not write here.
        fetch() { (cd "$python" && apt-get -o APT::Sandbox::User=root download python3-scipy); }
        fetch || { apt-get update && fetch; }
        dpkg -x "$python"/python3-scipy_*.deb "$python"
        rm "$python"/python3-scipy_*.deb
    fi
    if [ -d "$packages/scipy" ]; then
        PYTHONPATH="$packages${PYTHONPATH:+:$PYTHONPATH}"
        export PYTHONPATH
    fi
    /usr/bin/python3 -c 'import scipy'
}

# axe-core looks at the page too, where npm can bring it; the tests say where it is missing, and look by themselves.
fetch_axe() {
    if [ -f "$root/build/axe/node_modules/axe-core/axe.min.js" ] || ! command -v npm >/dev/null; then return 0; fi
    say "Fetching axe-core into build/axe"
    timeout 120 npm install --prefix "$root/build/axe" --no-audit --no-fund --silent axe-core@4 ||
        echo "axe-core could not be fetched; the tests go on without it."
}

our_sources() { find protocols drivers daemon simulator tests -type f -name "*.$1" | sort; }

say "Packages"
sh daemon/packaging/install-dependencies.sh test
unpack_scipy
if [ "$what" = test ]; then fetch_axe; fi

say "Configuring build/$preset"
if [ "$preset" = tidy ]; then
    # Without precompiled headers, which clang cannot read from g++, and which would hide an include that is missing.
    cmake --preset debug -B build/tidy -DCMAKE_DISABLE_PRECOMPILE_HEADERS=ON -DSTILLMARK_JOIN_FILES=OFF
    say "clang-format"
    { our_sources cpp && our_sources hpp; } | xargs clang-format --dry-run -Werror
    say "clang-tidy"
    # The build is of g++; what it alone knows is no matter for clang.
    our_sources cpp | xargs -P "$cores" -n 3 clang-tidy -p build/tidy --quiet --extra-arg=-Wno-unknown-warning-option
    say "clang-format and clang-tidy found nothing"
    exit 0
fi
# The demo may have configured this folder without tests.
cmake --preset "$preset" -DBUILD_TESTING=ON

say "Building"
if [ "$what" = bench ]; then
    cmake --build "build/$preset" --parallel "$cores" --target all benchmarks
    status=0
    for figure in build/"$preset"/tests/bench_figures/bench_* tests/bench_figures/*.py; do
        [ -f "$figure" ] || continue
        say "$(basename "$figure")"
        case $figure in
            *.py) STILLMARK_SOURCE="$root" STILLMARK_BUILD="$root/build/$preset" /usr/bin/python3 "$figure" || status=1 ;;
            *) "$figure" || status=1 ;;
        esac
    done
    exit "$status"
fi
cmake --build "build/$preset" --parallel "$cores"

say "Testing"
LSAN_OPTIONS="suppressions=$root/tests/leaks_of_others.txt:print_suppressions=0"
export LSAN_OPTIONS
if [ "$what" = faults ]; then
    exec ctest --test-dir "build/$preset" --output-on-failure -R '^faults\.'
fi
STILLMARK_FAULTS=${STILLMARK_FAULTS-10}
export STILLMARK_FAULTS
exec ctest --test-dir "build/$preset" --output-on-failure -j "$at_once"
