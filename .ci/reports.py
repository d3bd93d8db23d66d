#!/usr/bin/env python3
"""Whether the reports of the stored runs are what the shipped schemas say, by another's validator (package jsonschema).

`reports.py HITCHWRIGHT` has the program make each report, holds it against its schema of `analysis/schemas/`, then damages
it in one place after the other, and demands that each damaged one is refused. Last it reads a table of the runs with pandas.
"""

import csv
import io
import json
import subprocess
import sys
import tempfile
from copy import deepcopy
from pathlib import Path

import pandas
from jsonschema import Draft202012Validator

ROOT = Path(__file__).resolve().parent.parent
RUNS = sorted(str(run) for run in (ROOT / "sample-runs/runs").iterdir() if run.is_dir())
PLOWS = sorted(str(plow) for plow in (ROOT / "sample-runs/plows").glob("*.toml"))
# What stands in these is called as the run has it: columns, channels, kinds of events.
FREE_NAMES = {"quality.channels", "calibration.outside", "calibration.age_days", "events"}
PAIRS = "count,value\n0,0 N\n1000,500 N\n2000,1001 N\n1000,501 N\n0,0 N\n"


def reports(folder):
    """Each report as the name of its schema and the words that make it."""
    for run in RUNS:
        yield "summary", ["summary", run, "--json"]
        yield "check", ["check", run, "--json"]
    yield "brief", ["summary", RUNS[0], "--brief", "--json"]
    yield "brief", ["compare", RUNS[0], "--against", RUNS[1], "--brief", "--json"]
    yield "compare", ["compare", RUNS[0], "--against", RUNS[1], "--json"]
    for plow in PLOWS:
        # From above only what has its tractor described.
        top = ["--top"] if "[tractor]" in Path(plow).read_text() else []
        yield "statics", ["statics", plow, "--json", *top]
    yield "statics-runs", ["statics", str(ROOT / "sample-runs/plows/two-bottom.toml"), "--json", "--runs", *RUNS[:3]]
    pairs = Path(folder) / "pairs.csv"
    pairs.write_text(PAIRS)
    yield "calibrate", ["calibrate", "--pairs", str(pairs), "--measures", "pull", "--json"]
    yield "ports", ["ports", "--json"]


def places(value, path=()):
    """Each place of a value, as the keys and numbers that lead to it, and its name without the numbers."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in inside:
        here = (*path, key)
        yield here, ".".join(step for step in here if isinstance(step, str))
        yield from places(inner, here)


def damaged(report):
    """The report with one key called otherwise, or one number put into words, in each place by its name."""
    seen = set()
    for path, name in places(report):
        if name in seen:
            continue
        seen.add(name)
        broken = deepcopy(report)
        holder = broken
        for step in path[:-1]:
            holder = holder[step]
        value = holder[path[-1]]
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            holder[path[-1]] = f"about {value}"
            yield name, broken
            holder[path[-1]] = value
        if isinstance(path[-1], str) and name.rpartition(".")[0] not in FREE_NAMES:
            holder[path[-1] + "_"] = holder.pop(path[-1])
            yield name, broken


def main():
    program = sys.argv[1]

    def said(words, status=(0,)):
        ended = subprocess.run([program, *words], capture_output=True, text=True, check=False)
        if ended.returncode not in status:
            sys.exit(f"{' '.join(words)}: status {ended.returncode}: {ended.stderr}")
        return ended.stdout

    validators = {}
    for file in sorted((ROOT / "analysis/schemas").glob("*.json")):
        schema = json.loads(file.read_text())
        Draft202012Validator.check_schema(schema)
        validators[file.stem] = Draft202012Validator(schema)
    left, refused = set(validators), 0
    with tempfile.TemporaryDirectory() as folder:
        for name, words in reports(folder):
            report = json.loads(said(words))
            for error in validators[name].iter_errors(report):
                sys.exit(f"{' '.join(words)}: {error.json_path}: {error.message}")
            if name not in left:
                continue
            left.discard(name)
            for place, broken in damaged(report):
                if validators[name].is_valid(broken):
                    sys.exit(f"{' '.join(words)}: accepted with {place} damaged")
                refused += 1
    if left:
        sys.exit(f"no report was held against {', '.join(sorted(left))}")

    text = said(["summary", *RUNS, "--csv"])
    table = pandas.read_csv(io.StringIO(text))
    if len(table) != len(RUNS) or {len(row) for row in csv.reader(io.StringIO(text))} != {len(table.columns)}:
        sys.exit(f"the table of {len(RUNS)} runs reads as {table.shape}")
    for run, row in zip(RUNS, table.itertuples(), strict=True):
        summary = json.loads(said(["summary", run, "--json"]))
        if row.pull_mean_n != summary["pull"]["mean_n"]["value"] or row.depth_p95_mm_high != summary["depth"]["p95_mm"]["high"]:
            sys.exit(f"{run}: the table has other numbers than the JSON")
    print(f"{len(validators)} schemas; {refused} damaged reports refused; a table of {len(table.columns)} columns")


main()
