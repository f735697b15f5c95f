"""Visits on a terminal, one for each way a visit can end, and one on the shipped model.

Each is a list of what is typed. What was seen stands in `recorded/NAME.txt`; after a change of
screens or advice that is meant, write them anew and read the difference:

    python -m tests.visit.recordings
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from brinebayes.knowledge.shipped import model_folder
from tests.visit.terminal import ROOT, Terminal

RECORDED = Path(__file__).resolve().parent / "recorded"
SMALL = ROOT / "tests" / "models" / "small"
SHOP = ROOT / "tests" / "models" / "shop.yaml"

#: Name -> (model, what is typed).
VISITS: dict[str, tuple[Path, tuple[str, ...]]] = {
    "proven": (
        SMALL,
        (
            *("scale on the taps", "", "1", "1", "1"),
            *("why", "1", "start", "2", "2"),
            *("take hardness_test", "2", "think"),
            *("take clean_injector", "1", "take proof", "1"),
            *("finish", "ok"),
        ),
    ),
    "repaired_proof_pending": (
        SMALL,
        (
            *("1", "", "2", "", "2", "", ""),
            *("saw level=static", "note no key for the cellar window"),
            *("take clear_brine_line", "1", "list", "", "finish", "6", ""),
        ),
    ),
    "escalated": (
        SMALL,
        (
            *("tank_overflows", "", "1", "go", "2", "2", "1"),
            *("saw suction_felt=pushes", "done clean_injector", "saw suction_felt=pushes"),
            *("pass on", "", "ok"),
        ),
    ),
    "not_a_softener_fault": (
        SMALL,
        ("1", "", "go", "1", "saw salt_use=usual", "take hardness_test", "1", "finish", "1", "ok"),
    ),
    "second_visit_needed": (
        SMALL,
        (
            *("", "go", "1", "take replace_seals", "3", "undo", "part missing seal_kit"),
            *("setup cover=off", "setup pressure=full", "undo", "finish", "1", "ok", "2"),
        ),
    ),
    "shipped": (
        model_folder(),
        (
            *("the salt does not go down", "", "4", "go", "1"),
            *("take watch_level", "start", "could not", "now", "3"),
            *("take open_injector", "2", "2", "1", "take clean_injector", "1"),
            *("take proof", "1", "finish", "ok"),
        ),
    ),
}


def record(name: str) -> str:
    """What is seen on a terminal during one of the visits."""
    model, typed = VISITS[name]
    with tempfile.TemporaryDirectory() as folder:
        line = ("visit", "visit.jsonl", "--model", str(model))
        if model == SMALL:
            line += ("--shop", str(SHOP))
        terminal = Terminal(*line, folder=Path(folder))
        terminal.until_asked()
        for text in typed:
            assert terminal.asks, text
            terminal.type(text + "\n")
        code = terminal.end()
    return f"{terminal.text()}\n[ended with {code}]\n"


def path_of(name: str) -> Path:
    """Where a recording stands."""
    return RECORDED / f"{name}.txt"


if __name__ == "__main__":
    for each in VISITS:
        path_of(each).write_text(record(each), encoding="utf-8")
