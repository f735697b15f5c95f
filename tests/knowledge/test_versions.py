"""Versions of a model in one folder, and the way back."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge.hashing import model_hash
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.knowledge.versions import former, restore, write

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"
SHARE = ("faults", "seals_worn", "share", "value")


def share(folder: Path) -> float:
    """The share that the tests change."""
    return read_model(folder).faults["seals_worn"].share.value


class TestWrite:
    """A new version, in a new folder or the same."""

    def test_a_new_folder_keeps_the_old_version_too(self, tmp_path: Path) -> None:
        ours = tmp_path / "ours"
        write(SMALL, ours, {"faults.yaml": {SHARE: 0.3}}, read_model)
        assert share(ours) == 0.3
        assert former(ours) == ("0001",)
        assert model_hash(ours / "former" / "0001") == model_hash(SMALL)

    def test_again_in_place(self, tmp_path: Path) -> None:
        ours = tmp_path / "ours"
        write(SMALL, ours, {"faults.yaml": {SHARE: 0.3}}, read_model)
        write(ours, ours, {"faults.yaml": {SHARE: 0.25}}, read_model)
        assert share(ours) == 0.25
        assert share(ours / "former" / "0002") == 0.3
        assert [each.name for each in tmp_path.iterdir()] == ["ours"]

    def test_nothing_is_put_in_place_that_is_not_proven(self, tmp_path: Path) -> None:
        def refuse(folder: Path) -> None:
            raise ModelError(f"not this one: {share(folder)}")

        ours = tmp_path / "ours"
        with pytest.raises(ModelError, match="not this one"):
            write(SMALL, ours, {"faults.yaml": {SHARE: 0.3}}, refuse)
        assert list(tmp_path.iterdir()) == []

    def test_what_is_in_the_way(self, tmp_path: Path) -> None:
        with pytest.raises(UsageError, match="is there already"):
            write(SMALL, tmp_path, {}, read_model)
        with pytest.raises(UsageError, match="no such folder"):
            write(SMALL, tmp_path / "a" / "b", {}, read_model)

    def test_the_shipped_model_stays(self) -> None:
        shipped = model_folder("softener")
        with pytest.raises(UsageError, match="stays as it is"):
            write(shipped, shipped, {}, read_model)


class TestRestore:
    """Back, step by step."""

    def test_back_to_the_bytes_of_before(self, tmp_path: Path) -> None:
        ours = tmp_path / "ours"
        write(SMALL, ours, {"faults.yaml": {SHARE: 0.3}}, read_model)
        write(ours, ours, {"faults.yaml": {SHARE: 0.25}}, read_model)
        given_up = model_hash(ours)
        restore(ours, read_model)
        assert share(ours) == 0.3
        assert model_hash(ours / "withdrawn" / "0001") == given_up
        restore(ours, read_model)
        assert model_hash(ours) == model_hash(SMALL)
        with pytest.raises(UsageError, match="no former version"):
            restore(ours, read_model)
