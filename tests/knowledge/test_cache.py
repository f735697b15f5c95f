"""The cache saves time and is otherwise not noticed, whatever becomes of its files."""

from __future__ import annotations

import os
import pickle
import stat
import time
from collections.abc import Callable
from pathlib import Path

import pytest

import brinebayes
from brinebayes.knowledge import cache


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    chosen = tmp_path / "deep" / "cache"
    monkeypatch.setenv("BRINEBAYES_CACHE", str(chosen))
    return chosen


class Counter:
    """Counts how often it had to be made."""

    def __init__(self) -> None:
        self.made = 0

    def __call__(self) -> int:
        self.made += 1
        return self.made


def entry(folder: Path) -> Path:
    (only,) = folder.iterdir()
    return only


class Intruder:
    """A pickle that leaves a mark when it is loaded."""

    def __init__(self, mark: Path) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[Callable[[str], None], tuple[str]]:
        return (os.mkdir, (str(self.mark),))


class TestRemember:
    """Made once for the same kind and key."""

    def test_the_second_time_it_is_kept(self) -> None:
        made = {"a": (1, 2.5)}
        assert cache.remember("model", "key", lambda: made) == made
        assert cache.remember("model", "key", lambda: pytest.fail("made again")) == made

    def test_none_is_a_value_too(self) -> None:
        assert cache.remember("model", "key", lambda: None) is None
        assert cache.remember("model", "key", lambda: pytest.fail("made again")) is None

    def test_other_kind_or_key(self) -> None:
        make = Counter()
        asked = [("a", "k"), ("b", "k"), ("a", "l")]
        assert [cache.remember(kind, key, make) for kind, key in asked] == [1, 2, 3]

    def test_kind_is_a_plain_word(self) -> None:
        with pytest.raises(ValueError, match="plain word"):
            cache.remember("../escape", "key", lambda: 1)

    def test_other_version_of_the_package(self, monkeypatch: pytest.MonkeyPatch) -> None:
        make = Counter()
        cache.remember("model", "key", make)
        monkeypatch.setattr(brinebayes, "__version__", "99")
        assert cache.remember("model", "key", make) == 2

    def test_other_version_of_the_schema(self, monkeypatch: pytest.MonkeyPatch) -> None:
        make = Counter()
        cache.remember("model", "key", make)
        monkeypatch.setattr(cache, "SCHEMA_VERSION", -1)
        assert cache.remember("model", "key", make) == 2

    def test_edited_code(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        package = tmp_path / "package" / "room"
        package.mkdir(parents=True)
        code = package / "code.py"
        code.write_text("1")
        monkeypatch.setattr(brinebayes, "__file__", str(package.parent / "__init__.py"))
        make = Counter()
        assert [cache.remember("m", "k", make) for _ in range(2)] == [1, 1]
        code.write_text("22")
        cache._code_stamp.cache_clear()  # as in a new process
        assert cache.remember("m", "k", make) == 2

    def test_what_make_raises_passes_through(self, folder: Path) -> None:
        def fail() -> int:
            raise KeyError("inside")

        with pytest.raises(KeyError, match="inside"):
            cache.remember("model", "key", fail)
        assert not folder.exists()

    def test_what_cannot_be_pickled_is_still_returned(self, folder: Path) -> None:
        made = cache.remember("model", "key", lambda: lambda: 5)
        assert made() == 5
        assert list(folder.iterdir()) == []


class TestWhere:
    """Chosen by the environment."""

    def test_off(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("BRINEBAYES_CACHE", "off")
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
        make = Counter()
        assert [cache.remember("m", "k", make) for _ in range(2)] == [1, 2]
        assert list(tmp_path.iterdir()) == []

    def test_base_directory(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.delenv("BRINEBAYES_CACHE")
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
        assert cache.cache_folder() == str(tmp_path / "brinebayes")

    def test_relative_base_directory_is_ignored(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Source: XDG Base Directory Specification 0.8, "all paths must be absolute"."""
        monkeypatch.delenv("BRINEBAYES_CACHE")
        monkeypatch.setenv("XDG_CACHE_HOME", "somewhere")
        monkeypatch.setenv("HOME", str(tmp_path))
        assert cache.cache_folder() == str(tmp_path / ".cache" / "brinebayes")

    def test_private(self, folder: Path) -> None:
        cache.remember("m", "k", lambda: 1)
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        assert stat.S_IMODE(entry(folder).stat().st_mode) == 0o600


class TestDamage:
    """Anything wrong with an entry: made again, and kept again."""

    @pytest.mark.parametrize(
        "damage",
        [
            lambda content: b"",
            lambda content: content[:-1],
            lambda content: content[:20],
            lambda content: content[:-3] + bytes([content[-3] ^ 1]) + content[-2:],
            lambda content: b"x" + content[1:],
            lambda content: pickle.dumps(99),
        ],
    )
    def test_damaged(self, folder: Path, damage: Callable[[bytes], bytes]) -> None:
        make = Counter()
        cache.remember("m", "k", make)
        path = entry(folder)
        path.write_bytes(damage(path.read_bytes()))
        assert [cache.remember("m", "k", make) for _ in range(2)] == [2, 2]

    def test_a_class_that_is_gone(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        cache.remember("m", "k", Counter)
        monkeypatch.delattr(f"{__name__}.Counter")
        assert cache.remember("m", "k", lambda: 5) == 5

    def test_a_file_in_the_place_of_the_folder(self, folder: Path) -> None:
        folder.parent.mkdir(parents=True)
        folder.write_text("in the way")
        make = Counter()
        assert [cache.remember("m", "k", make) for _ in range(2)] == [1, 2]

    def test_a_folder_in_the_place_of_the_entry(self, folder: Path) -> None:
        cache.remember("m", "k", lambda: 1)
        path = entry(folder)
        path.unlink()
        path.mkdir()
        assert cache.remember("m", "k", lambda: 2) == 2
        assert list(folder.iterdir()) == [path]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system has no owners of files")
class TestTrust:
    """A pickle that others could have written is never loaded."""

    def plant(self, folder: Path) -> Path:
        mark = folder.parent / "mark"
        cache.remember("m", "k", lambda: Intruder(mark))
        return mark

    def test_the_intruder_works_when_it_is_trusted(self, folder: Path) -> None:
        mark = self.plant(folder)
        cache.remember("m", "k", lambda: 1)
        assert mark.exists()

    @pytest.mark.parametrize("mode", [0o620, 0o602])
    def test_entry_that_others_may_write(self, folder: Path, mode: int) -> None:
        mark = self.plant(folder)
        entry(folder).chmod(mode)
        assert cache.remember("m", "k", lambda: 1) == 1
        assert not mark.exists()

    @pytest.mark.parametrize("mode", [0o720, 0o702])
    def test_folder_that_others_may_write(self, folder: Path, mode: int) -> None:
        mark = self.plant(folder)
        before = entry(folder).read_bytes()
        folder.chmod(mode)
        assert cache.remember("m", "k", lambda: 1) == 1
        assert not mark.exists()
        assert entry(folder).read_bytes() == before

    def test_owned_by_somebody_else(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        mark = self.plant(folder)
        somebody = os.geteuid() + 1
        monkeypatch.setattr(os, "geteuid", lambda: somebody)
        assert cache.remember("m", "k", lambda: 1) == 1
        assert not mark.exists()

    def test_link_to_another_file(self, folder: Path) -> None:
        mark = self.plant(folder)
        path = entry(folder)
        path.rename(folder.parent / "elsewhere")
        path.symlink_to(folder.parent / "elsewhere")
        assert cache.remember("m", "k", lambda: 1) == 1
        assert not mark.exists()


class TestPrune:
    """Old entries go, the oldest first."""

    def test_the_oldest_go(self, folder: Path) -> None:
        for index in range(cache.MOST_ENTRIES + 5):
            cache.remember("m", str(index), lambda: 0)
            newest = max(folder.iterdir(), key=lambda path: path.stat().st_mtime_ns)
            os.utime(newest, (1000 + index, 1000 + index))
        cache.remember("m", "last", lambda: 0)
        ages = sorted(path.stat().st_mtime for path in folder.iterdir())
        assert len(ages) == cache.MOST_ENTRIES
        assert ages[0] == 1000 + 6
        assert ages[-1] > 10_000

    def test_leftovers_of_an_interrupted_run_go(self, folder: Path) -> None:
        cache.remember("m", "a", lambda: 0)
        old = folder / "m-0.pickle.1.ab.tmp"
        young = folder / "m-1.pickle.1.ab.tmp"
        foreign = folder / "notes.tmp"
        for path in (old, young, foreign):
            path.write_text("")
        for path in (old, foreign):
            os.utime(path, (time.time() - 86400,) * 2)
        cache.remember("m", "b", lambda: 0)
        assert not old.exists()
        assert young.exists()
        assert foreign.exists()
