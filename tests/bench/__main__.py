"""Measure the engine: `python -m tests.bench`. A table to stdout, JSON to a file with `--json`.

Nothing here is a test and nothing is timed inside tests: figures say something about a machine.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

# One thread for linear algebra, before numpy is imported; pyAgrum keeps its own default.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

ROWS = ("asking", "engine", "shipped", "advising")


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--only", nargs="*", default=[], help="subjects, e.g. generated hepar2")
    parser.add_argument("--rows", nargs="*", default=ROWS, help="what")
    parser.add_argument("--sets", type=int, default=200, help="fresh evidence sets")
    parser.add_argument("--agrum", type=int, default=20, help="of these, asked of pyAgrum too")
    parser.add_argument("--queries", type=int, default=12, help="single queries asked of pgmpy")
    parser.add_argument("--visits", type=int, default=12, help="visits whose advice is timed")
    parser.add_argument("--json", type=Path, help="file for the figures")
    chosen = parser.parse_args()

    from tests.bench import advising, asking, engine, shipped
    from tests.bench.measure import as_json, machine, table
    from tests.bench.subjects import subjects

    effort = asking.Effort(chosen.sets, chosen.agrum, chosen.queries)
    print(", ".join(f"{name} {value}" for name, value in machine().items()))
    measurements = []
    for subject in subjects(tuple(chosen.only)):
        found = []
        if "asking" in chosen.rows:
            found += list(asking.measure(subject, effort))
        if "engine" in chosen.rows:
            found += list(engine.measure(subject, chosen.sets))
        print(table(found), flush=True)
        measurements += found
    if "shipped" in chosen.rows and (not chosen.only or shipped.NAME in chosen.only):
        inner = shipped.Effort(chosen.sets, chosen.agrum, chosen.queries)
        found = list(shipped.measure(inner))
        print(table(found), flush=True)
        measurements += found
    if "advising" in chosen.rows and not chosen.only:
        found = list(advising.measure(chosen.visits))
        print(table(found), flush=True)
        measurements += found
    if chosen.json:
        chosen.json.write_text(as_json(measurements), encoding="utf-8")


if __name__ == "__main__":
    main()
