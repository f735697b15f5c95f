"""Where the log lies."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.cases.place import VARIABLE, log_path


class TestLogPath:
    """The option, then the environment, then the user's own folder."""

    def test_in_this_order(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("HOME", str(tmp_path))
        monkeypatch.delenv("XDG_DATA_HOME", raising=False)
        monkeypatch.delenv(VARIABLE)
        assert log_path() == tmp_path / ".local" / "share" / "brinebayes" / "cases.db"
        monkeypatch.setenv("XDG_DATA_HOME", "not/absolute")
        assert log_path() == tmp_path / ".local" / "share" / "brinebayes" / "cases.db"
        monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
        assert log_path() == tmp_path / "data" / "brinebayes" / "cases.db"
        monkeypatch.setenv(VARIABLE, "shop.db")
        assert log_path() == Path("shop.db")
        assert log_path("other.db") == Path("other.db")
        monkeypatch.setenv(VARIABLE, "off")
        assert log_path() is None
