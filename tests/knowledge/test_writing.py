"""One value is changed and nothing else: round trips, and the difference line by line."""

from __future__ import annotations

import difflib
import os
import shutil
import stat
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brinebayes.errors import ModelError, UsageError
from brinebayes.knowledge import writing, yaml_strict
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import FILES
from brinebayes.knowledge.yaml_strict import Path as KeyPath

SMALL = Path(__file__).parents[1] / "models" / "small"
TEXTS = {name: (SMALL / name).read_text("utf-8") for name in FILES}


def scalars(data: Any, path: KeyPath = ()) -> list[KeyPath]:
    if isinstance(data, dict | list):
        items = data.items() if isinstance(data, dict) else enumerate(data)
        return [leaf for key, item in items for leaf in scalars(item, (*path, key))]
    return [path]


EVERYWHERE = [
    (file, path) for file in FILES for path in scalars(yaml_strict.load(file, TEXTS[file]).data)
]
NUMBERS = [(file, path) for file, path in EVERYWHERE if path[-1] == "value"]
PROBABILITIES = [(file, path) for file, path in NUMBERS if "clears" in path or "misreading" in path]


def at(text: str, path: KeyPath) -> object:
    data = yaml_strict.load("f", text).data
    for step in path:
        data = data[step]
    return data


def difference(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines that went and lines that came."""
    lines = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return (
        [line[2:] for line in lines if line.startswith("- ")],
        [line[2:] for line in lines if line.startswith("+ ")],
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(SMALL, tmp_path / "small"))


class TestChanged:
    """The text of a file, without touching the disk."""

    @given(
        where=st.sampled_from(NUMBERS),
        new=st.floats(allow_nan=False, allow_infinity=False) | st.integers(),
    )
    def test_a_number_comes_back_to_the_last_bit(
        self, where: tuple[str, KeyPath], new: float
    ) -> None:
        file, path = where
        after = writing.changed(file, TEXTS[file], {path: new})
        found = at(after, path)
        assert repr(found) == repr(new)
        went, came = difference(TEXTS[file], after)
        assert len(went) == len(came) <= 1

    @given(where=st.sampled_from(EVERYWHERE), new=st.text(st.characters(codec="utf-8")))
    def test_any_text_at_any_place(self, where: tuple[str, KeyPath], new: str) -> None:
        file, path = where
        after = writing.changed(file, TEXTS[file], {path: new})
        assert at(after, path) == new
        went, came = difference(TEXTS[file], after)
        assert len(went) == len(came) <= 1

    @given(new=st.text(st.characters(codec="utf-8"), min_size=1))
    def test_another_reader_of_yaml_1_2_finds_the_same(self, new: str) -> None:
        from ruamel.yaml import YAML

        after = writing.changed("f", "key: old\n", {("key",): new})
        assert YAML(typ="safe", pure=True).load(after) == {"key": new}

    @given(st.data())
    def test_several_at_once(self, data: st.DataObject) -> None:
        file = data.draw(st.sampled_from(sorted({file for file, _ in NUMBERS})))
        paths = [path for name, path in NUMBERS if name == file]
        chosen = data.draw(st.lists(st.sampled_from(paths), unique=True, max_size=6))
        changes: dict[KeyPath, writing.Value] = {
            path: data.draw(st.floats(0, 1)) for path in chosen
        }
        after = writing.changed(file, TEXTS[file], changes)
        wanted = yaml_strict.load(file, TEXTS[file]).data
        for path, new in changes.items():
            below = wanted
            for step in path[:-1]:
                below = below[step]
            below[path[-1]] = new
        assert yaml_strict.load(file, after).data == wanted

    @pytest.mark.parametrize(
        ("before", "path", "after"),
        [
            ("a: {v: 1}\n", ("a", "n"), "a: {v: 1, n: 7}\n"),
            ("a: {}\n", ("a", "n"), "a: {n: 7}\n"),
            ("a: {v: 1, }\n", ("a", "n"), "a: {v: 1, n: 7, }\n"),
            ("a: {v: [x]} # c\n", ("a", "n"), "a: {v: [x], n: 7} # c\n"),
            ("a: {v: 1, # c\n    w: 'x'}\n", ("a", "n"), "a: {v: 1, # c\n    w: 'x', n: 7}\n"),
            ("a:\n  v: 1 # c\nb: 2\n", ("a", "n"), "a:\n  v: 1 # c\n  n: 7\nb: 2\n"),
            ("a:\n  v: 1", ("a", "n"), "a:\n  v: 1\n  n: 7"),
            ("a:\r\n  v: 1\r\n", ("a", "n"), "a:\r\n  v: 1\r\n  n: 7\r\n"),
            ("a:\n  v: {x: 1,\n    y: 2}\nb: 1\n", ("a", "n"), None),
            ("a:\n  v:\n    x: 1\nb: 1\n", ("a", "n"), "a:\n  n: 7\n  v:\n    x: 1\nb: 1\n"),
            ("a:\n  - v: 1\n  - v: 2\n", ("a", 0, "n"), "a:\n  - v: 1\n    n: 7\n  - v: 2\n"),
            (
                "a:\n  v: |\n    x\n  w: 1\n",
                ("a", "n"),
                "a:\n  v: |\n    x\n  w: 1\n  n: 7\n",
            ),
            ("a:\n  w: |\n    text\n", ("a", "n"), "a:\n  n: 7\n  w: |\n    text\n"),
            ("\ufeffa: {v: 1}\n", ("a", "n"), "\ufeffa: {v: 1, n: 7}\n"),
            ("v: 1\n", ("n",), "v: 1\nn: 7\n"),
        ],
    )
    def test_a_new_key_joins_its_mapping(self, before: str, path: KeyPath, after: str) -> None:
        found = writing.changed("f", before, {path: 7})
        assert at(found, path) == 7
        if after is not None:
            assert found == after

    def test_new_keys_stay_in_the_order_given(self) -> None:
        changes: dict[KeyPath, writing.Value] = {
            ("a", "v"): 2,
            ("a", "m"): 1,
            ("a", "b"): "on",
            ("a", "d"): "2024-05-31",
        }
        found = writing.changed("f", "a: {v: 1}\n", changes)
        assert found == "a: {v: 2, m: 1, b: on, d: 2024-05-31}\n"

    @pytest.mark.parametrize(
        ("before", "after"),
        [
            ("a: 1   # why\n", "a: 7   # why\n"),
            ("a:    '1'\n", "a:    7\n"),
            ("a: two words # c\n", "a: 7 # c\n"),
            ("a:\n  1\n", "a:\n  7\n"),
            ("a: {1: 2}\n", None),
            ("a: one\n  long text\nb: 2\n", "a: 7\nb: 2\n"),
        ],
    )
    def test_only_the_span_goes(self, before: str, after: str | None) -> None:
        if after is None:
            with pytest.raises((UsageError, ModelError)):
                writing.changed("f", before, {("a",): 7})
        else:
            assert writing.changed("f", before, {("a",): 7}) == after

    @pytest.mark.parametrize(
        ("path", "says"),
        [
            (("faults", "seal_worn", "share", "value"), "did you mean seals_worn"),
            (("faults", "x", "share", "value"), "there are: injector_clogged"),
            (("faults", "seals_worn", "share"), "not a single value"),
            (("faults", "seals_worn", "name", "x"), "does not exist"),
            (("faults", "seals_worn", "typical", 0), "does not exist"),
            ((), "the whole file is not a single value"),
        ],
    )
    def test_a_path_that_leads_nowhere(self, path: KeyPath, says: str) -> None:
        with pytest.raises(UsageError, match=says):
            writing.changed("faults.yaml", TEXTS["faults.yaml"], {path: 0.5})

    def test_text_in_block_style_is_left_alone(self) -> None:
        with pytest.raises(UsageError, match="block style"):
            writing.changed("f", "a: |\n  text\n", {("a",): "other"})

    def test_a_broken_file_is_not_touched(self) -> None:
        with pytest.raises(ModelError, match="already given"):
            writing.changed("f", "a: 1\na: 2\n", {("a",): 3})


class TestWritten:
    """How values stand in a file."""

    @pytest.mark.parametrize(
        ("value", "text"),
        [
            (0.1, "0.1"),
            (5e-05, "5e-05"),
            (1e16, "1e+16"),
            (-0.0, "-0.0"),
            (3, "3"),
            (True, "true"),
            ("learned", "learned"),
            ("two words", "two words"),
            ("true", '"true"'),
            ("7", '"7"'),
            ("", '""'),
            ("a: b", '"a: b"'),
            ("a #b", '"a #b"'),
            ('say "x"', '"say \\"x\\""'),
            ("two\nlines", '"two\\x0alines"'),
        ],
    )
    def test_values(self, value: writing.Value, text: str) -> None:
        assert writing.written(value) == text

    def test_numbers_of_numpy(self) -> None:
        import numpy as np

        assert writing.written(np.float64(0.25)) == "0.25"

    @pytest.mark.parametrize("value", [float("inf"), float("-inf"), float("nan")])
    def test_not_finite(self, value: float) -> None:
        with pytest.raises(ValueError, match="not a number that can be written"):
            writing.written(value)


class TestChangeNumbers:
    """On the disk."""

    @settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(where=st.sampled_from(PROBABILITIES), new=st.floats(0, 0.5))
    def test_the_model_read_again_holds_the_number(
        self, folder: Path, where: tuple[str, KeyPath], new: float
    ) -> None:
        file, path = where
        before = (folder / file).read_text("utf-8")
        writing.change_number(folder, file, path, new)
        after = (folder / file).read_text("utf-8")
        went, came = difference(before, after)
        assert len(went) == len(came) <= 1
        found: Any = read_model(folder)
        for step in path:
            found = (
                found[step]
                if not isinstance(step, str) or _has(found, step)
                else (getattr(found, step))
            )
        assert found == new

    def test_a_learned_number(self, folder: Path) -> None:
        path: KeyPath = ("faults", "seals_worn", "share")
        writing.change_numbers(
            folder,
            "faults.yaml",
            {
                (*path, "value"): 0.21875,
                (*path, "basis"): "learned",
                (*path, "weight"): 64,
                (*path, "cases"): 44,
                (*path, "learned_on"): "2024-05-31",
            },
        )
        went, came = difference(TEXTS["faults.yaml"], (folder / "faults.yaml").read_text("utf-8"))
        assert went == [
            "    share: {value: 0.2, basis: judgement, weight: 20, "
            "note: invented share of worn seals}"
        ]
        assert came == [
            "    share: {value: 0.21875, basis: learned, weight: 64, "
            "note: invented share of worn seals, cases: 44, learned_on: 2024-05-31}"
        ]
        share = read_model(folder).faults["seals_worn"].share
        assert (share.value, share.basis, share.cases) == (0.21875, "learned", 44)

    def test_a_spread_needs_all_its_parts_in_one_write(self, folder: Path) -> None:
        of: KeyPath = ("mechanisms", "suction", "causes", 0, "effect", "of")
        with pytest.raises(ModelError, match=r"sums to 1\.1, not 1"):
            writing.change_number(folder, "mechanisms.yaml", (*of, "weak"), 0.7)
        assert (folder / "mechanisms.yaml").read_text("utf-8") == TEXTS["mechanisms.yaml"]
        writing.change_numbers(folder, "mechanisms.yaml", {(*of, "weak"): 0.7, (*of, "none"): 0.25})
        effect = read_model(folder).mechanisms["suction"].causes[0].effect
        assert effect.of == {"high": 0.05, "weak": 0.7, "none": 0.25}

    def test_what_is_not_well_formed_is_not_written(self, folder: Path) -> None:
        path: KeyPath = ("faults", "seals_worn", "share", "value")
        with pytest.raises(ModelError, match="between 0 and 1"):
            writing.change_number(folder, "faults.yaml", path, 1.5)
        assert (folder / "faults.yaml").read_text("utf-8") == TEXTS["faults.yaml"]

    def test_nothing_to_change_writes_nothing(self, folder: Path) -> None:
        target = folder / "faults.yaml"
        before = target.stat()
        path: KeyPath = ("faults", "seals_worn", "share", "value")
        writing.change_number(folder, "faults.yaml", path, 0.2)
        assert target.stat().st_ino == before.st_ino

    def test_rights_and_links_stay(self, folder: Path, tmp_path: Path) -> None:
        target = folder / "faults.yaml"
        real = tmp_path / "real.yaml"
        target.rename(real)
        real.chmod(0o640)
        target.symlink_to(real)
        path: KeyPath = ("faults", "seals_worn", "share", "value")
        writing.change_number(folder, "faults.yaml", path, 0.25)
        assert target.is_symlink()
        assert stat.S_IMODE(real.stat().st_mode) == 0o640
        assert read_model(folder).faults["seals_worn"].share.value == 0.25

    def test_no_leftovers_when_the_disk_fails(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def full(handle: int) -> None:
            raise OSError("no space left")

        monkeypatch.setattr(os, "fsync", full)
        path: KeyPath = ("faults", "seals_worn", "share", "value")
        with pytest.raises(OSError, match="no space"):
            writing.change_number(folder, "faults.yaml", path, 0.25)
        assert sorted(each.name for each in folder.iterdir()) == sorted(FILES)
        assert (folder / "faults.yaml").read_text("utf-8") == TEXTS["faults.yaml"]

    def test_unknown_file(self, folder: Path) -> None:
        with pytest.raises(UsageError, match=r"did you mean faults\.yaml"):
            writing.change_number(folder, "fault.yaml", ("faults",), 1)

    def test_windows_line_ends_stay(self, folder: Path) -> None:
        target = folder / "faults.yaml"
        target.write_bytes(target.read_bytes().replace(b"\n", b"\r\n"))
        path: KeyPath = ("faults", "seals_worn", "share", "value")
        writing.change_number(folder, "faults.yaml", path, 0.25)
        seals = "{value: 0.2, basis: judgement, weight: 20,"
        expected = TEXTS["faults.yaml"].replace(seals, seals.replace("0.2,", "0.25,"))
        assert target.read_bytes() == expected.replace("\n", "\r\n").encode()


def _has(found: Any, step: str) -> bool:
    return hasattr(found, "keys") and step in found
