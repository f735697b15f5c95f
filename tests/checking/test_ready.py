"""A model is proven once for each content of its files."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from brinebayes.checking import proof
from brinebayes.checking.ready import ready
from brinebayes.errors import ModelError, UsageError
from tests.checking.planted import SMALL, edited, line_of
from tests.checking.test_proof import TWO_ERRORS


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the small model, and a cache of its own."""
    monkeypatch.setenv("BRINEBAYES_CACHE", str(tmp_path / "cache"))
    return Path(shutil.copytree(SMALL, tmp_path / "small"))


class TestReady:
    """Through the cache, and never past a change."""

    def test_the_second_time_nothing_is_proven(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        first = ready(folder)
        monkeypatch.setattr(proof, "examine", None)
        again = ready(folder)
        assert again == first
        assert again.findings

    def test_a_changed_file_is_proven_anew(self, folder: Path) -> None:
        first = ready(folder)
        path = folder / "faults.yaml"
        text = path.read_text("utf-8")
        path.write_text(text.replace("note: invented share of worn seals", "note: x"))
        second = ready(folder)
        assert second.model.hash != first.model.hash
        assert any("'x' gives no reason" in line for line in second.findings)
        line = line_of(text, "note: invented share of worn seals")
        assert any(found.startswith(f"faults.yaml:{line}:") for found in second.findings)

    def test_a_refused_model_is_refused_every_time(self, folder: Path) -> None:
        for name, content in edited(TWO_ERRORS).items():
            (folder / name).write_bytes(content)
        for _ in range(2):
            with pytest.raises(ModelError, match=r"checks\.yaml:\d+:\d+: open_injector"):
                ready(folder)

    def test_no_such_folder(self, tmp_path: Path) -> None:
        with pytest.raises(UsageError, match="nowhere"):
            ready(tmp_path / "nowhere")

    def test_from_the_cache_nothing_heavy_is_imported(self, folder: Path) -> None:
        code = (
            "import sys; from pathlib import Path; from brinebayes.checking.ready import ready\n"
            f"ready(Path({str(folder)!r}))\n"
            "heavy = {'pydantic', 'yaml', 'ruamel', 'pgmpy', 'networkx', 'scipy', 'pandas'}\n"
            "print(sorted(heavy & set(sys.modules)))"
        )
        command = [sys.executable, "-c", code]
        first, again = (
            subprocess.run(command, capture_output=True, text=True, check=True) for _ in range(2)
        )
        assert first.stdout.strip() == "['pydantic', 'yaml']"
        assert again.stdout.strip() == "[]"
