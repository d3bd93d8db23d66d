#!/usr/bin/env bash
# Records the four stored runs anew, in real time (a bit over a minute): the virtual plow over one strip of
# its invented field, too flat, balanced, too steep, and with worn shares. The truth that the virtual plow
# knows goes beside each run folder, where no analysis looks.
# Who runs this changes stored files: say why in the commit.
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build --bins
top=$PWD
bin=$top/target/debug
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
# From here on names of ports are short: they are kept in the runs, and a machine's folders are nobody's business.
cd "$scratch"

record() { # CASE SETTING SHARE
    local case=$1 setting=$2 share=$3
    local run=$top/sample-runs/runs/$case
    rm -rf "$run" "$run.truth.toml"
    "$bin/virtual-box" --case "$case" --field-seed 411 --rate-hz 50 --link "$case" \
        --pass-truth "$run.truth.toml" >"$case.log" &
    local box=$!
    until [[ -e $case ]]; do sleep 0.05; done
    "$bin/hitchwright-recorder" --port "$case" --plow "$top/sample-runs/plows/two-bottom.toml" \
        --setting "$setting" --share "$share" --field "invented strip 411" \
        --soil "virtual loam" --note "stored run, invented" --into "$run" --stop-when-gone "1 s"
    wait "$box"
}

record too-flat flat sharp &
record balanced middle sharp &
record too-steep steep sharp &
record worn-shares middle worn &
wait
