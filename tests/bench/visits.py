"""Policies on the same drawn visits: `python -m tests.bench.visits`.

A table to stdout. Visits are appended to `--file` as they come, and a run that was stopped goes on
there. The units are drawn from the network that the advice reckons with: a check of consistency.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

# One thread for linear algebra, before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

#: What a technician sees of any unit at a glance.
AT_A_GLANCE = ("valve_family", "drive_kind", "started_by", "tanks")


def main() -> None:
    """Run what was asked for."""
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.simulation import trials

    parser = argparse.ArgumentParser(prog="python -m tests.bench.visits", description=__doc__)
    parser.add_argument("--visits", type=int, default=2_000)
    parser.add_argument("--policies", nargs="*", default=list(trials.choosers()))
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--told", nargs="*", default=AT_A_GLANCE, help="known of the site")
    parser.add_argument("--model", type=Path, default=model_folder("softener"))
    parser.add_argument("--file", type=Path, help="where the visits are kept")
    chosen = parser.parse_args()

    def progress(done: int, whole: int) -> None:
        print(f"\r{done} of {whole}", end="", file=sys.stderr, flush=True)

    known = trials.choosers()
    served = trials.run(
        ready(chosen.model),
        [known[name] for name in chosen.policies],
        range(chosen.visits),
        chosen.seed,
        chosen.told,
        chosen.file,
        progress,
    )
    print(file=sys.stderr)
    for policy, figures in trials.figures(served).items():
        print(policy)
        for name, figure in figures.items():
            print(f"  {name:<18}{figure.mean:9.2f}  [{figure.low:.2f}, {figure.high:.2f}]")
    if "search" in chosen.policies:
        print("cost beyond that of the search, visit by visit")
        for policy, figure in trials.differences(served, "search").items():
            print(f"  {policy:<18}{figure.mean:9.2f}  [{figure.low:.2f}, {figure.high:.2f}]")


if __name__ == "__main__":
    main()
