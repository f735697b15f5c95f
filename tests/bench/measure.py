"""What a measurement is, how it is taken and how it is shown."""

from __future__ import annotations

import json
import os
import platform
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

import numpy as np

T = TypeVar("T")


@dataclass(frozen=True)
class Measurement:
    """One figure: on what, what of it, how much; `target` is what is to be reached, if anything."""

    subject: str
    what: str
    value: float
    unit: str
    target: str = ""
    note: str = ""


def timed(action: Callable[[], T]) -> tuple[float, T]:
    """Seconds of wall time and the result."""
    start = time.perf_counter()
    result = action()
    return time.perf_counter() - start, result


def processor_timed(action: Callable[[], T]) -> tuple[float, T]:
    """Seconds of processor time of this process and the result: what one core would need."""
    start = time.process_time()
    result = action()
    return time.process_time() - start, result


def spread(subject: str, what: str, seconds: Sequence[float], note: str = "") -> list[Measurement]:
    """Median and 99th percentile in milliseconds."""
    note = f"{len(seconds)} sets{'; ' + note if note else ''}"
    return [
        Measurement(subject, f"{what}, median", 1e3 * float(np.median(seconds)), "ms", note=note),
        Measurement(
            subject, f"{what}, 99th percentile", 1e3 * float(np.quantile(seconds, 0.99)), "ms"
        ),
    ]


def machine() -> dict[str, str]:
    """What it was measured on."""
    found = {
        "machine": platform.machine(),
        "system": f"{platform.system()} {platform.release()}",
        "python": sys.version.split()[0],
        "cores": str(os.cpu_count()),
        "threads of linear algebra": os.environ.get("OPENBLAS_NUM_THREADS", "not set"),
    }
    cpu = Path("/proc/cpuinfo")
    if cpu.exists():
        lines = [line for line in cpu.read_text().splitlines() if line.startswith("model name")]
        found["processor"] = lines[0].partition(":")[2].strip() if lines else "unknown"
    found |= {name: version(name) for name in ("numpy", "pgmpy", "pyagrum")}
    return found


def table(measurements: Iterable[Measurement]) -> str:
    """Lines for a reader, one measurement each, grouped by subject."""
    lines, last = [], ""
    for one in measurements:
        if one.subject != last:
            lines.append(f"\n{one.subject}")
            last = one.subject
        aim = f"  (to reach: {one.target})" if one.target else ""
        note = f"  [{one.note}]" if one.note else ""
        lines.append(f"  {one.what:<58}{one.value:>12,.4g} {one.unit}{aim}{note}")
    return "\n".join(lines)


def as_json(measurements: Iterable[Measurement]) -> str:
    """Machine and measurements as JSON."""
    return json.dumps(
        {"machine": machine(), "measurements": [asdict(one) for one in measurements]}, indent=2
    )
