#!/bin/sh
# A whole calibration on a simulated bench: builds the programs, starts service and simulator, shows how the run goes, and
# ends with the table of deviations, which is compared with the truth that the simulator hides from the service. A browser
# on this machine can look on: the address is printed.
#   sh simulator/demo.sh [--seed N] [--mistakes] [--wrong-word-order]
# Ends with 0 where every mark is right, 1 where not (or where the run could not be done), 2 for wrong use.
set -eu

source_dir=$(cd "$(dirname "$0")/.." && pwd)
scenario=$source_dir/simulator/demo/scenario.json
seed=
swapped=
expect=
usage() {
    echo "usage: sh $0 [--seed N] [--mistakes] [--wrong-word-order]" >&2
    exit 2
}
while [ $# -gt 0 ]; do
    case $1 in
        --seed)
            [ $# -ge 2 ] || usage
            case $2 in '' | *[!0-9]*) usage ;; esac
            seed=$2
            shift
            ;;
        --mistakes)
            scenario=$source_dir/simulator/demo/mistakes.json
            expect=$scenario
            ;;
        --wrong-word-order) swapped="transmitter A" ;;
        *) usage ;;
    esac
    shift
done

# STILLMARK_BUILD names a folder with programs that are built already.
if [ -n "${STILLMARK_BUILD-}" ]; then
    programs=$STILLMARK_BUILD
else
    echo "== What is needed to build"
    sh "$source_dir/daemon/packaging/install-dependencies.sh" build
    echo "== Building"
    mkdir -p "$source_dir/build"
    # Tests need more packages than the programs; a folder that was configured with them keeps them.
    tests=OFF
    if grep -q '^BUILD_TESTING:BOOL=ON' "$source_dir/build/release/CMakeCache.txt" 2>/dev/null; then tests=ON; fi
    (cd "$source_dir" && cmake --preset release -DBUILD_TESTING=$tests) >"$source_dir/build/configure.log" 2>&1 || {
        cat "$source_dir/build/configure.log" >&2
        exit 1
    }
    (cd "$source_dir" && cmake --build --preset release --target stillmarkd stillmark stillmark-sim)
    programs=$source_dir/build/release
fi

runs=${STILLMARK_RUNS-$source_dir/build/runs}
mkdir -p "$runs"
run=$(mktemp -d "$runs/demo-XXXXXX")
# A socket's path may be 107 characters long at most, which a deep folder can exceed.
socket_dir=$(mktemp -d)
service=
simulator=
end_all() {
    for program in $simulator $service; do
        kill "$program" 2>/dev/null || true
        wait "$program" 2>/dev/null || true
    done
    simulator=
    service=
    rm -rf "$socket_dir"
}
trap end_all EXIT
trap 'exit 1' INT TERM HUP

bench=$("$programs/stillmark-sim" copy-bench "$source_dir/simulator/demo/bench.json" "$run")
profiles=$source_dir/drivers/profiles
journal=$run/demo.journal
socket=$socket_dir/socket

# The console's own port where it is free; the kernel lists who listens (state 0A) by hexadecimal ports.
http=127.0.0.1:8788
if grep -Eq '^ *[0-9]+: [0-9A-F]+:2254 [0-9A-F]+:[0-9A-F]+ 0A ' /proc/net/tcp /proc/net/tcp6 2>/dev/null; then
    http=127.0.0.1:0
fi

echo "== The run (everything on this bench is invented)"
set -- "$scenario" --bench "$bench" --profiles "$profiles" --socket "$socket" --log "$run/truth.csv" \
    --actions "$run/actions.jsonl" --summary "$run/summary.json" --results "$run/results.json"
[ -z "$seed" ] || set -- "$@" --seed "$seed"
[ -z "$swapped" ] || set -- "$@" --wrong-word-order "$swapped"
"$programs/stillmark-sim" "$@" &
simulator=$!
# The service would wait for its buses; that they are there first only keeps its log quiet.
tries=0
while [ ! -e "$run/wire/line-a" ] && [ $tries -lt 50 ] && kill -0 "$simulator" 2>/dev/null; do
    sleep 0.1
    tries=$((tries + 1))
done
"$programs/stillmarkd" "$bench" --profiles "$profiles" --journal "$journal" --socket "$socket" --http "$http" \
    2>"$run/service.log" &
service=$!
tries=0
until grep -q 'the console is at' "$run/service.log" || [ $tries -ge 50 ] || ! kill -0 "$service" 2>/dev/null; do
    sleep 0.1
    tries=$((tries + 1))
done
sed -n 's/.* the console is at /   The console, for a browser on this machine while the run goes on: /p' "$run/service.log"

outcome=0
wait "$simulator" || outcome=$?
simulator=
"$programs/stillmark" --socket "$socket" results >"$run/results.txt" 2>&1 || outcome=1

# The certificates: what the customer said, a draft of each instrument, and a reviewer who did not work at the run.
ask() { "$programs/stillmark" --socket "$socket" "$@" >>"$run/certificates.txt" 2>&1; }
certificates=0
if [ "$outcome" -eq 0 ]; then
    ask particulars R1 --customer "Invented Works" --address "Customer Lane 2" --address "00000 Nowhere" --country DE \
        --order "INV-77" --received 2026-01-15 --condition "clean, without damage" &&
        ask certificate R1 --by "O. Operator (invented)" || certificates=1
    # The pressure may dip by hundredths of a bar while discs go on; such a reading is flagged and holds the signature. The
    # reviewer, who sees the figures, overrides that finding by finding; what was overridden is printed, so it is drafted anew.
    "$programs/stillmark" --socket "$socket" certificates --json | tr ',{' '\n\n' | awk -F'"' '
        $2 == "certificate" { number = $4 } $2 == "code" { code = $4 }
        $2 == "subject" && code == "wrong_approach" { print number, code, $4 }' >"$run/findings.txt"
    while read -r number code subject; do
        ask override "$number" "$code" "$subject" --by "R. Reviewer (invented)" \
            --reason "it dipped by less than the uncertainty while discs went on (invented)" || certificates=1
    done <"$run/findings.txt"
    [ ! -s "$run/findings.txt" ] || ask certificate R1 --by "O. Operator (invented)" || certificates=1
    for number in $("$programs/stillmark" --socket "$socket" certificates --json | tr ',{' '\n\n' |
        sed -n 's/^"certificate":"\([^"]*\)".*/\1/p'); do
        ask sign "$number" --by "R. Reviewer (invented)" || certificates=1
    done
    "$programs/stillmark" --socket "$socket" certificates >"$run/list.txt" 2>&1 || certificates=1
fi
kill "$service" 2>/dev/null || outcome=1
wait "$service" || outcome=1
service=

if [ "$outcome" -ne 0 ]; then
    [ -z "$swapped" ] || echo "The scenario sends the words of $swapped in the wrong order: its numbers mean nothing."
    echo "== The run did not come to its end; the journal is $journal"
    tail -n 5 "$run/service.log" | sed 's/^/   service: /'
    exit 1
fi

echo
"$programs/stillmark-sim" table --results "$run/results.json"
echo
sed -n '/^Evaluation of/,$p' "$run/results.txt"
echo
verdict=0
set -- judge --log "$run/truth.csv" --results "$run/results.json" --least-marks 96
[ -z "$expect" ] || set -- "$@" --expect "$expect" --bench "$bench" --profiles "$profiles"
"$programs/stillmark-sim" "$@" || verdict=1
echo
"$programs/stillmark" replay "$journal" >"$run/replay.txt" 2>&1 || verdict=1
tail -n 1 "$run/replay.txt"
echo
echo "Certificates, signed by an invented reviewer:"
sed 's/^/   /' "$run/list.txt"
echo "   The documents are in $journal.records"
if [ "$certificates" -ne 0 ]; then
    verdict=1
    tail -n 5 "$run/certificates.txt"
fi
echo
echo "The journal is $journal"
[ "$verdict" -eq 0 ] && echo "== Good: every mark holds against the hidden truth." || echo "== NOT GOOD: see above."
exit "$verdict"
