"""The page on a slow phone beside Python on this machine, the same visits.

    python -m tests.bench.page [--visits 6] [--acts 6] [--slow 4] [--json FILE]

Each visit begins with another complaint and is tapped through in Chromium, whose processor is
slowed down; a time runs from the tap until the next card is painted. What the page then has on
record is asked of Python: in a process that has answered before, and of `next --json` whole.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from brinebayes.advice.advise import advise
from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shipped import model_folder
from brinebayes.page.export import page as exported
from brinebayes.visit.record import read_record
from brinebayes.visit.state import fold
from tests.bench.measure import Measurement, as_json, machine, table, timed
from tests.page.browser import phone, tap

NAME = "page"
#: Nobody taps before having read what was opened.
READ_FOR_MS = 2_000

#: Taps an element and waits until what comes of it has been painted; milliseconds.
TAP = """(element) => new Promise((done) => {
  const status = document.getElementById("status");
  const begun = performance.now();
  const watch = new MutationObserver(() => {
    if (status.textContent.startsWith("Working")) return;
    watch.disconnect();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun)));
  });
  watch.observe(document.body, { childList: true, subtree: true, characterData: true });
  element.click();
})"""

#: The visit that was begun last, as the page keeps it.
KEPT = "() => localStorage.getItem('brinebayes.visit.' + localStorage.getItem('brinebayes.last'))"


@dataclass
class Step:
    """One advice: what kind of act was answered before it, the page's time, and what is known."""

    before: str
    page_ms: float
    text: str
    advise_ms: float = 0.0
    next_ms: float = 0.0


@dataclass
class Visit:
    """A complaint and the advice that followed, the first one first."""

    complaint: str
    steps: list[Step] = field(default_factory=list)


def tapped(url: str, complaint: str, number: int, acts: int, slow: float) -> Visit:
    """A visit in a browser that was just opened."""
    visit = Visit(complaint)
    with phone(url) as page:
        session = page.context.new_cdp_session(page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": slow})
        page.wait_for_timeout(READ_FOR_MS)
        tap(page, "Begin a new visit")
        tap(page, complaint)
        tap(page, "Nothing, or nothing more")
        while _stamp(page) == "SAFETY":
            page.locator("button.answer").first.tap()
            page.wait_for_timeout(500)
        tap(page, "No more about the place")
        before, button = "", page.get_by_role("button", name="yes, all of this", exact=True)
        for turn in range(acts + 1):
            took = button.first.evaluate(TAP)
            visit.steps.append(Step(before, took, page.evaluate(KEPT)))
            before = _stamp(page)
            if before not in ("CHECK", "REPAIR", "PROVE"):
                break
            answers = page.locator("button.answer")
            # A repair is done; of a check one answer after the other has its turn.
            button = answers.nth((number + turn) % answers.count() if before == "CHECK" else 0)
    return visit


def _stamp(page: Any) -> str:
    return str(page.locator(".stamp").inner_text()).upper()


def asked(checked: CheckedModel, visit: Visit, folder: Path) -> None:
    """Python's times for what the page was asked, into the steps; each the second time."""
    for step in visit.steps:
        file = folder / "visit.jsonl"
        file.write_text(step.text, encoding="utf-8")
        state = fold(checked.model, read_record(file).events)
        if state.ended is not None:
            continue
        for _ in range(2):
            step.advise_ms = 1e3 * timed(lambda state=state: advise(checked, state))[0]
            step.next_ms = 1e3 * timed(lambda file=file: whole_process(file, folder))[0]


def whole_process(file: Path, folder: Path) -> None:
    """`next --json` for a visit file; compiled modules are kept, as wherever it is installed."""
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    start = "from brinebayes.cli.main import main; main()"
    line = [sys.executable, "-c", start, "next", "--json", "--visit", str(file)]
    subprocess.run(line, env=environment, capture_output=True, check=True)


def figures(visits: list[Visit], size: int, slow: float) -> Iterator[Measurement]:
    """Medians, and the most, of the first advice and of each next one."""
    yield Measurement(NAME, "size of the file", size / 1e3, "KB", "500")
    first = [visit.steps[0] for visit in visits]
    rest = [step for visit in visits for step in visit.steps[1:]]
    kinds = {
        "first advice": first,
        "next advice": [step for step in rest if step.before != "REPAIR"],
        "advice after a repair": [step for step in rest if step.before == "REPAIR"],
    }
    for what, steps in kinds.items():
        if not steps:
            continue
        note = f"{len(steps)} of them"
        times = {
            f"in the page, slowed down {slow:g} times": [s.page_ms for s in steps],
            "`advise` in Python, warm": [s.advise_ms for s in steps],
            "`next --json`, whole process": [s.next_ms for s in steps],
        }
        for how, ms in times.items():
            yield Measurement(NAME, f"{what}, {how}, median", float(np.median(ms)), "ms", "", note)
            yield Measurement(NAME, f"{what}, {how}, most", max(ms), "ms")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.page", description=__doc__)
    parser.add_argument("--visits", type=int, default=6)
    parser.add_argument("--acts", type=int, default=6, help="answers after the first advice")
    parser.add_argument("--slow", type=float, default=4.0, help="how many times slower")
    parser.add_argument("--json", type=Path, help="file for the figures")
    chosen = parser.parse_args()
    print(", ".join(f"{name} {value}" for name, value in machine().items()))
    checked = ready(model_folder("softener"))
    names = [one.name for one in checked.model.complaints.values()]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        sheet = folder / "sheet.html"
        sheet.write_text(exported(checked), encoding="utf-8")
        visits = []
        for number in range(chosen.visits):
            name = names[number % len(names)]
            visit = tapped(sheet.as_uri(), name, number, chosen.acts, chosen.slow)
            asked(checked, visit, folder)
            ways = (
                f"{step.page_ms:.0f} ({step.advise_ms:.0f}; {step.next_ms:.0f})"
                for step in visit.steps
            )
            print(f"{visit.complaint}: {', '.join(ways)} ms", flush=True)
            visits.append(visit)
        found = list(figures(visits, sheet.stat().st_size, chosen.slow))
    print(table(found))
    if chosen.json:
        chosen.json.write_text(as_json(found), encoding="utf-8")


if __name__ == "__main__":
    main()
