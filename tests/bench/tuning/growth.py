"""How time and memory grow with the number of cases; each size in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator, Sequence

from tests.bench.measure import Measurement

#: Rounds that are timed; how many are needed does not depend on the number of cases.
ROUNDS = 1


def measure(model: str, sizes: Sequence[int]) -> Iterator[Measurement]:
    """Per size: processor seconds to read and to count once, and the most memory that was used."""
    for size in sizes:
        ran = subprocess.run(
            [sys.executable, "-m", "tests.bench.tuning.growth", model, str(size)],
            capture_output=True,
            text=True,
            check=True,
        )
        found = json.loads(ran.stdout)
        name = f"{model}, {size} cases"
        note = f"{found['different']} counted apart, {found['observations']:.1f} observations each"
        yield Measurement(name, "reading all", found["reading_s"], "s", note=note)
        yield Measurement(name, "one round of counting", found["round_s"], "s")
        yield Measurement(name, "cases a second and round", size / found["round_s"], "")
        yield Measurement(name, "most memory", found["memory_mb"], "MB")
        yield Measurement(name, "of it before the first case", found["before_mb"], "MB")


def once(model: str, size: int) -> dict[str, float]:
    """Draw cases from the model, one after the other, and count them once."""
    import resource
    import time

    from brinebayes.knowledge.reading import read_model
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.tuning.em import total
    from brinebayes.tuning.engine import engine, plan
    from brinebayes.tuning.numbers import SAFE, entries
    from brinebayes.tuning.spool import Spool
    from tests.bench.tuning.drawn import told_cases

    def memory() -> float:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0

    known = read_model(model_folder(model))
    seen = 0
    start = time.process_time()
    with Spool(known) as kept:
        first = list(told_cases(known, 64, seed=1))
        names = {name for one in first for name, _ in one.findings}
        ready = engine(known, plan(known, names | set(known.complaints), entries(known, SAFE)))
        before = memory()
        start = time.process_time()
        for one in told_cases(known, size, seed=2):
            seen += len(one.findings)
            kept.add(one, 1.0)
        names = set(kept.names)
        reading = time.process_time() - start
        ready = engine(known, plan(known, names, entries(known, SAFE)))
        start = time.process_time()
        for _ in range(ROUNDS):
            total(ready, kept())
        spent = (time.process_time() - start) / ROUNDS
        return {
            "reading_s": reading,
            "round_s": spent,
            "memory_mb": memory(),
            "before_mb": before,
            "different": kept.different,
            "observations": seen / size,
        }


if __name__ == "__main__":
    print(json.dumps(once(sys.argv[1], int(sys.argv[2]))))
