"""How time and memory grow with the number of cases; each size in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator, Sequence

from tests.bench.measure import Measurement


def measure(model: str, sizes: Sequence[int]) -> Iterator[Measurement]:
    """Per size: processor seconds of a whole tuning, its rounds, and the most memory used."""
    for size in sizes:
        ran = subprocess.run(
            [sys.executable, "-m", "tests.bench.tuning.growth", model, str(size)],
            stdout=subprocess.PIPE,
            text=True,
            check=True,
        )
        found = json.loads(ran.stdout)
        name = f"{model}, {size} cases"
        note = f"{found['different']} counted apart"
        yield Measurement(name, "making the cases, twice", found["making_s"], "s", note=note)
        yield Measurement(name, "whole tuning without that", found["tuning_s"], "s")
        yield Measurement(name, "rounds over all cases", found["rounds"], "")
        yield Measurement(name, "most memory", found["memory_mb"], "MB")
        yield Measurement(name, "of it before the first case", found["before_mb"], "MB")


def once(model: str, size: int) -> dict[str, float]:
    """Tune the model on cases that are drawn from it one after the other."""
    import resource
    import time

    from brinebayes.cases.record import Case
    from brinebayes.knowledge.reading import read_model
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.tuning.gather import Terms
    from brinebayes.tuning.tune import tune
    from tests.bench.tuning.drawn import cases

    def memory() -> float:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0

    known = read_model(model_folder(model))
    before, making = memory(), 0.0

    def made() -> Iterator[Case]:
        nonlocal making
        drawn = cases(known, size, seed=2)
        while True:
            start = time.process_time()
            one = next(drawn, None)
            making += time.process_time() - start
            if one is None:
                return
            yield one

    start = time.process_time()
    found = tune(known, made, Terms("2025-12-31"))
    return {
        "making_s": making,
        "tuning_s": time.process_time() - start - making,
        "rounds": found.rounds,
        "memory_mb": memory(),
        "before_mb": before,
        "different": found.different,
    }


if __name__ == "__main__":
    print(json.dumps(once(sys.argv[1], int(sys.argv[2]))))
