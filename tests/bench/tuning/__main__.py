"""Measure tuning: `python -m tests.bench.tuning`. A table to stdout, JSON with `--json FILE`."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.tuning", description=__doc__)
    parser.add_argument("--rows", nargs="*", default=["recovery", "growth"], help="what")
    parser.add_argument("--worlds", type=int, default=20, help="changed models to recover")
    parser.add_argument("--cases", type=int, default=400, help="cases of each")
    parser.add_argument("--sizes", nargs="*", type=int, default=[1000, 10_000, 100_000])
    parser.add_argument("--model", default="softener", help="model for growth")
    parser.add_argument("--json", type=Path, help="file for the figures")
    chosen = parser.parse_args()

    from tests.bench.measure import as_json, machine, table
    from tests.bench.tuning import growth, recovery

    print(", ".join(f"{name} {value}" for name, value in machine().items()))
    found = []
    if "recovery" in chosen.rows:
        found += list(recovery.measure(chosen.worlds, chosen.cases))
        print(table(found), flush=True)
    if "growth" in chosen.rows:
        more = list(growth.measure(chosen.model, chosen.sizes))
        print(table(more), flush=True)
        found += more
    if chosen.json:
        chosen.json.write_text(as_json(found), encoding="utf-8")


if __name__ == "__main__":
    main()
