"""The hash of a model depends on names and bytes of its files and on nothing else."""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path

import pytest

from brinebayes.errors import UsageError
from brinebayes.knowledge.hashing import hash_of, model_hash

SMALL = Path(__file__).parents[1] / "models" / "small"


class TestModelHash:
    """Stable where it should be, different where it must be."""

    def test_a_copy_elsewhere_has_the_same(self, tmp_path: Path) -> None:
        copy = shutil.copytree(SMALL, tmp_path / "other", copy_function=shutil.copyfile)
        os.utime(copy / "checks.yaml", (1, 1))
        assert model_hash(copy) == model_hash(SMALL)

    def test_other_files_do_not_count(self, tmp_path: Path) -> None:
        copy = Path(shutil.copytree(SMALL, tmp_path / "other"))
        (copy / "README.md").write_text("words")
        (copy / ".checks.yaml").write_text("editor's copy")
        (copy / "more.yaml").mkdir()
        assert model_hash(copy) == model_hash(SMALL)

    def test_one_byte_counts(self, tmp_path: Path) -> None:
        copy = Path(shutil.copytree(SMALL, tmp_path / "other"))
        (copy / "checks.yaml").write_bytes((copy / "checks.yaml").read_bytes() + b"\n")
        assert model_hash(copy) != model_hash(SMALL)

    def test_another_file_counts(self, tmp_path: Path) -> None:
        copy = Path(shutil.copytree(SMALL, tmp_path / "other"))
        (copy / "more.yml").write_text("")
        assert model_hash(copy) != model_hash(SMALL)

    def test_no_folder(self, tmp_path: Path) -> None:
        with pytest.raises(UsageError, match="no model can be read there"):
            model_hash(tmp_path / "nowhere")


class TestHashOf:
    """The construction, spelled out once with hashlib."""

    def test_construction(self) -> None:
        by_hand = b"".join(
            len(part).to_bytes(8, "big") + part
            for part in (b"a.yaml", b"one", b"b.yaml", b"two two")
        )
        expected = hashlib.sha256(by_hand).hexdigest()
        assert hash_of({"b.yaml": b"two two", "a.yaml": b"one"}) == expected

    def test_nothing_moves_between_name_and_content(self) -> None:
        assert hash_of({"a.yaml": b"xb.yaml"}) != hash_of({"a.yamlx": b"b.yaml"})
