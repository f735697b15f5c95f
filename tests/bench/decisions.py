"""Regret of every policy on the drawn models: `python -m tests.bench.decisions`.

A table to stdout, the cases to a file with `--json`. Nothing here is timed.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

# One thread for linear algebra, and no thousands of small models in the user's cache.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("BRINEBAYES_CACHE", "off")


def main() -> None:
    """Measure what was asked for."""
    from tests.decisions import families, regret

    parser = argparse.ArgumentParser(prog="python -m tests.bench.decisions", description=__doc__)
    parser.add_argument("--families", nargs="*", default=families.FAMILIES)
    parser.add_argument("--models", type=int, default=110, help="seeds for each family")
    parser.add_argument("--first", type=int, default=0, help="the first of the seeds")
    parser.add_argument("--policies", nargs="*", default=list(regret.POLICIES))
    parser.add_argument("--kept", type=Path, help="folder for what was solved before")
    parser.add_argument("--worst", type=int, default=0, help="show so many of the worst models")
    parser.add_argument("--of", default="search", help="the policy whose worst models are shown")
    parser.add_argument("--json", type=Path, help="file for the figures")
    chosen = parser.parse_args()

    followed = {name: regret.POLICIES[name] for name in chosen.policies}
    cases = [
        regret.measure(family, seed, followed, chosen.kept)
        for seed in range(chosen.first, chosen.first + chosen.models)
        for family in chosen.families
    ]
    print(regret.table(cases))
    for case in regret.worst(cases, chosen.of)[: chosen.worst] if chosen.worst else ():
        print(f"{case.family} {case.seed}: {100 * case.regret(chosen.of):.1f} % of {case.low:.1f}")
        for slip in regret.slips(case.family, case.seed, followed[chosen.of]):
            print(
                f"  lost {slip.loss:.2f} at chance {slip.chance:.3f}: {slip.chosen}, best"
                f" {slip.best}; seen {slip.seen}, done {slip.done}"
            )
    if chosen.json:
        chosen.json.write_text(regret.as_json(cases), encoding="utf-8")


if __name__ == "__main__":
    main()
