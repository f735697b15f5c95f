"""The small public surface: what `import brinebayes` offers, and that it works."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import brinebayes as bb

SMALL = Path(__file__).resolve().parent / "models" / "small"


class TestSurface:
    """Names are added here on purpose, never by accident."""

    def test_its_names(self) -> None:
        assert sorted(bb.__all__) == [
            "BrinebayesError",
            "Complained",
            "CouldNot",
            "Done",
            "Measured",
            "PartMissing",
            "Read",
            "Saw",
            "SetupIs",
            "SiteKnown",
            "__version__",
            "ask",
            "load",
            "read_events",
        ]
        assert all(getattr(bb, name) is not None for name in bb.__all__)

    def test_load_ask_and_read_the_answer(self) -> None:
        model = bb.load(SMALL)
        answer = bb.ask(model, [bb.Complained("hard_water"), bb.Saw("injector_seen", "dirty")])
        assert answer.faults[0][0] == "injector_clogged"
        assert answer.next.act.name

    def test_importing_it_imports_nothing_heavy(self) -> None:
        code = "import sys, brinebayes; print([m for m in ('numpy', 'typer') if m in sys.modules])"
        ran = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        )
        assert ran.stdout.strip() == "[]"
