"""How fast recorded cases are scored and how memory grows: `python -m tests.bench.scoring`.

Every size runs in a process of its own, on cases drawn in bulk from the model: a site told in part,
complaints, ten observations at random; all different. `harbour`: the invented cases that are
shipped, so often that there are enough, as a technician chooses what to look at.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

SIZES = (1_000, 10_000, 100_000)
#: Cases whose evidence is in memory at once when posteriors alone are measured.
AT_ONCE, SEED = 2_000, 5


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.scoring", description=__doc__)
    parser.add_argument("--model", default="softener")
    parser.add_argument("--sizes", nargs="*", type=int, default=list(SIZES))
    parser.add_argument("--json", type=Path, help="file for the figures")
    parser.add_argument("--once", nargs=2, metavar=("WHAT", "SIZE"), help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.once:
        what, size = chosen.once
        print(json.dumps(MEASURED[what](chosen.model, int(size))))
        return

    from tests.bench.measure import as_json, machine, table

    print(", ".join(f"{name} {value}" for name, value in machine().items()))
    found = []
    for one in measure(chosen.model, chosen.sizes):
        found.append(one)
        print(table([one]), flush=True)
    if chosen.json:
        chosen.json.write_text(as_json(found), encoding="utf-8")


def measure(model: str, sizes: Sequence[int]) -> Iterator[object]:
    """Posteriors alone, and everything that `score` does."""
    from tests.bench.measure import Measurement

    one = _process(model, "harbour", 4_000)
    note = f"trees of {one['trees']} entries"
    yield Measurement("harbour", "posteriors", one["rate"], "a second", "2,500 a second", note)
    for size in sizes:
        name = f"{model}, {size} cases"
        one = _process(model, "posteriors", size)
        note = f"{one['different']:.0f} different, trees of {one['trees']} entries"
        target = "2,500 a second"
        yield Measurement(name, "posteriors", one["rate"], "a second", target, note)
        yield Measurement(name, "choosing the trees", one["planning_s"], "s")
        yield Measurement(name, "posteriors: most memory", one["memory_mb"], "MB")
        one = _process(model, "score", size)
        note = f"{one['scored']:.0f} scored, {one['evidence']:.0f} sets of evidence"
        yield Measurement(name, "score, every step", one["rate"], "cases a second", "", note)
        yield Measurement(name, "score: most memory", one["memory_mb"], "MB")
        yield Measurement(name, "score: of it after 1,024 cases", one["before_mb"], "MB")


def _process(model: str, what: str, size: int) -> dict[str, float]:
    line = [sys.executable, "-m", "tests.bench.scoring", "--model", model, "--once", what]
    ran = subprocess.run([*line, str(size)], capture_output=True, text=True, check=True)
    found: dict[str, float] = json.loads(ran.stdout)
    return found


def posteriors(model: str, size: int) -> dict[str, object]:
    """Fault posteriors of the last step before the first repair, processor time; drawing cases and
    reading them off is not counted."""
    import time
    from itertools import islice

    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.scoring.known import known, last_question
    from brinebayes.scoring.shapes import plan
    from tests.bench.tuning.drawn import cases

    checked = ready(model_folder(model)).model
    left = (known(last_question(checked, case)) for case in cases(checked, size, SEED))
    spent = planning = 0.0
    engine, different = None, 0
    while sets := list(islice(left, AT_ONCE)):
        if engine is None:
            start = time.process_time()
            engine = plan(checked, sets).engine(checked)
            planning = time.process_time() - start
        start = time.process_time()
        apart = tuple(dict.fromkeys(sets))
        engine.posteriors(apart)
        spent += time.process_time() - start
        different += len(apart)
    assert engine is not None
    return {
        "rate": size / spent,
        "planning_s": planning,
        "different": different,
        "trees": ", ".join(str(pair.tree.entries) for pair in engine.pairs),
        "memory_mb": memory(),
    }


def harbour(model: str, size: int) -> dict[str, object]:
    """The same for the cases of the harbour, each as if it were another."""
    import time

    from brinebayes.cases.lines import read_cases
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import case_file, model_folder
    from brinebayes.scoring.known import known, last_question
    from brinebayes.scoring.shapes import plan

    checked = ready(model_folder(model)).model
    sets = [known(last_question(checked, case)) for case in read_cases(case_file("harbour"))]
    engine = plan(checked, sets).engine(checked)
    many = (sets * (size // len(sets) + 1))[:size]
    start = time.process_time()
    engine.posteriors(many)
    rate = size / (time.process_time() - start)
    return {"rate": rate, "trees": ", ".join(str(pair.tree.entries) for pair in engine.pairs)}


def score(model: str, size: int) -> dict[str, object]:
    """Everything, at every step, with intervals; drawing cases is not counted."""
    import time

    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.scoring.score import score as measured
    from tests.bench.tuning.drawn import cases

    checked = ready(model_folder(model)).model
    drawing = 0.0
    before = 0.0

    def timed() -> Iterator[object]:
        nonlocal drawing, before
        left = cases(checked, size, SEED)
        for number in range(size):
            start = time.process_time()
            case = next(left)
            drawing += time.process_time() - start
            if number == 1024:
                before = memory()
            yield case

    start = time.process_time()
    found = measured(checked, timed())
    spent = time.process_time() - start - drawing
    return {
        "rate": size / spent,
        "scored": found.sorted.scored,
        "evidence": found.sorted.evidence,
        "memory_mb": memory(),
        "before_mb": before or memory(),
    }


def memory() -> float:
    """The most memory of this process so far, in MB."""
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


MEASURED = {"harbour": harbour, "posteriors": posteriors, "score": score}

if __name__ == "__main__":
    main()
