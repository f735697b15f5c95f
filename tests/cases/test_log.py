"""The case log: what is added is there, once, whatever happens to the processes and the disk."""

from __future__ import annotations

import os
import random
import resource
import signal
import sqlite3
import stat
import time
import traceback
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.cases.lines import to_line
from brinebayes.cases.log import Log, replaced_by_new
from brinebayes.cases.record import Case
from brinebayes.cases.tables import APPLICATION, VERSION
from brinebayes.errors import DataError, UsageError
from tests.cases.anything import PROVEN, cases, visit
from tests.strategies import SLOW_LAW
from tests.visit.children import in_a_child

AT = "2024-05-31T18:00:00Z"
LATER = "2024-06-30T08:00:00Z"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "folder" / "cases.db"


def kept(path: Path) -> list[Case]:
    """What is in a log, read by somebody who just opened it."""
    with Log(path) as log:
        assert log.damage() == ()
        return list(log.cases())


class TestAdd:
    """Added once, and read back as it was."""

    @SLOW_LAW
    @given(some=st.lists(cases(), max_size=5, unique_by=lambda case: case.id))
    def test_any_cases_come_back_in_order(
        self, some: list[Case], tmp_path_factory: pytest.TempPathFactory
    ) -> None:
        path = tmp_path_factory.mktemp("log") / "cases.db"
        with Log(path, make=True) as log:
            assert log.add(some, AT).new == tuple(case.id for case in some)
            assert log.add(some, LATER).same == log.ids()
        assert kept(path) == some

    def test_other_content_is_refused_and_nothing_of_the_addition_stays(self, path: Path) -> None:
        with Log(path, make=True) as log:
            log.add([PROVEN], AT)
            with pytest.raises(DataError, match=r"proven-1 is there with other content; nothing"):
                log.add([visit(id="another"), replace(PROVEN, call_back="yes")], AT)
            assert log.ids() == ("proven-1",)

    def test_a_revision_leaves_the_first_as_it_was(self, path: Path) -> None:
        after = replace(PROVEN, call_back="no")
        with Log(path, make=True) as log:
            log.add([PROVEN, visit()], AT)
            assert log.add([after], LATER, replaced_by_new).revised == ("proven-1",)
            assert log.add([after], LATER, replaced_by_new).same == ("proven-1",)
            assert [(r.number, r.added, r.case) for r in log.history("proven-1")] == [
                (1, AT, PROVEN),
                (2, LATER, after),
            ]
        assert kept(path) == [after, visit()]

    def test_a_line_that_cannot_be_read_ends_the_whole_addition(self, path: Path) -> None:
        with Log(path, make=True) as log:
            with pytest.raises(DataError, match="opened: must not be after"):
                log.add([PROVEN, visit(), replace(PROVEN, id="x", opened="2024-06-01")], AT)
            assert log.ids() == ()

    def test_change(self, path: Path) -> None:
        with Log(path, make=True) as log:
            log.add([PROVEN], AT)
            log.change("proven-1", LATER, lambda case: replace(case, unit="unit-7"))
            assert log.get("proven-1").unit == "unit-7"
            with pytest.raises(UsageError, match=r"no case 'proven-2' \(did you mean proven-1\?\)"):
                log.change("proven-2", LATER, lambda case: case)


class TestOpen:
    """What is no log is left alone."""

    def test_it_is_nobody_elses_to_read(self, path: Path) -> None:
        Log(path, make=True).close()
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700

    def test_none_is_made_by_looking(self, path: Path) -> None:
        with pytest.raises(DataError, match="there is no case log yet"):
            Log(path)
        assert not path.exists()

    def test_notes_of_somebody(self, path: Path) -> None:
        path.parent.mkdir()
        path.write_text("milk, bread and a bag of salt\n" * 40)
        with pytest.raises(DataError, match="cannot be opened: file is not a database"):
            Log(path, make=True)
        assert path.read_text().startswith("milk")

    def test_another_database(self, path: Path) -> None:
        path.parent.mkdir()
        base = sqlite3.connect(path)
        base.execute("CREATE TABLE cases (id TEXT)")
        base.close()
        before = path.read_bytes()
        with pytest.raises(DataError, match="is a database, but no case log; nothing was changed"):
            Log(path, make=True)
        assert path.read_bytes() == before

    def test_a_newer_log(self, path: Path) -> None:
        Log(path, make=True).close()
        base = sqlite3.connect(path)
        base.execute(f"PRAGMA user_version = {VERSION + 1}")
        base.close()
        with pytest.raises(DataError, match=r"newer brinebayes \(version 3 of the log"):
            Log(path)

    def test_a_log_of_version_1_is_brought_along(self, path: Path) -> None:
        """Version 1 kept one line for each id, in the order in which they came."""
        some = [visit(id="b"), PROVEN, visit(id="a")]
        path.parent.mkdir()
        base = sqlite3.connect(path)
        base.execute("CREATE TABLE cases (id TEXT PRIMARY KEY, line TEXT NOT NULL, added TEXT)")
        for case in some:
            base.execute("INSERT INTO cases VALUES (?,?,?)", (case.id, to_line(case), AT))
        base.execute(f"PRAGMA application_id = {APPLICATION}")
        base.execute("PRAGMA user_version = 1")
        base.commit()
        base.close()
        assert kept(path) == some
        with Log(path) as log:
            assert log.add(some, LATER).same == ("b", "proven-1", "a")
            assert log.history("a")[0].added == AT
            log.change("a", LATER, lambda case: replace(case, call_back="no"))
        assert [case.call_back for case in kept(path)] == ["unknown", "unknown", "no"]

    def test_a_migration_that_fails_leaves_the_old_log(
        self, path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        path.parent.mkdir()
        base = sqlite3.connect(path)
        base.execute("CREATE TABLE cases (id TEXT PRIMARY KEY, line TEXT NOT NULL, added TEXT)")
        base.execute("INSERT INTO cases VALUES (?,?,?)", (PROVEN.id, to_line(PROVEN), AT))
        base.execute(f"PRAGMA application_id = {APPLICATION}")
        base.execute("PRAGMA user_version = 1")
        base.commit()
        base.close()

        def stopped(_: str) -> str:
            raise KeyboardInterrupt

        with monkeypatch.context() as patch:
            patch.setattr("brinebayes.cases.tables.digest_of", stopped)
            with pytest.raises(KeyboardInterrupt):
                Log(path)
        assert kept(path) == [PROVEN]


class TestDamage:
    """A record that somebody changed is found, and so is a file that is torn."""

    def test_a_changed_record(self, path: Path) -> None:
        with Log(path, make=True) as log:
            log.add([PROVEN, visit()], AT)
        base = sqlite3.connect(path)
        base.execute("UPDATE cases SET line = replace(line, 'town', 'well') WHERE place = 1")
        base.commit()
        base.close()
        with Log(path) as log:
            assert log.damage() == ("case proven-1: the record is not the one that was written",)

    def test_pages_that_hold_something_else(self, path: Path) -> None:
        with Log(path, make=True) as log:
            log.add([visit(id=f"case-{n}") for n in range(200)], AT)
        size = path.stat().st_size
        with path.open("r+b") as file:
            file.seek(size // 2)
            file.write(b"\xa5" * 8192)
        with Log(path) as log, suppress(DataError):  # Or so torn that it cannot be read at all.
            assert log.damage() != ()


class TestBackup:
    """A copy that is a log of its own, taken while others write."""

    def test_while_another_process_adds(self, path: Path, tmp_path: Path) -> None:
        with Log(path, make=True) as log:
            log.add([PROVEN], AT)
            child = os.fork()
            if child == 0:
                _add_many(path, "other", 40)
            log.backup(tmp_path / "copy.db")
            os.waitpid(child, 0)
        found = kept(tmp_path / "copy.db")
        assert found[0] == PROVEN
        assert found == kept(path)[: len(found)]
        assert sorted(each.name for each in tmp_path.glob("copy*")) == ["copy.db"]

    def test_onto_itself(self, path: Path) -> None:
        with Log(path, make=True) as log, pytest.raises(UsageError, match="the case log itself"):
            log.backup(path)

    def test_where_there_is_no_folder(self, path: Path, tmp_path: Path) -> None:
        with Log(path, make=True) as log, pytest.raises(DataError, match="cannot be copied"):
            log.backup(tmp_path / "none" / "copy.db")


# --- several processes, kills and full disks ----------------------------------------------------


def _add_many(path: Path, name: str, count: int) -> None:
    """A process of its own that adds cases one by one and says, on the disk, which are added."""
    said = os.open(path.with_name(f"{name}.said"), os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    code = 1
    try:
        with Log(path, make=True) as log:
            for number in range(count):
                case = visit(id=f"{name}-{number}", job="x" * (number % 70 + 1))
                assert len(log.add([case], AT).new) == 1
                os.write(said, f"{case.id}\n".encode())
        code = 0
    except Exception:
        traceback.print_exc()
    finally:
        os._exit(code)


def _start(path: Path, name: str, count: int) -> int:
    child = os.fork()
    if child == 0:
        _add_many(path, name, count)
    return child


def _said(path: Path) -> list[str]:
    """The ids that the processes had been told are added."""
    texts = [each.read_text() for each in path.parent.glob("*.said")]
    return [id for text in texts for id in text.split()]


class TestTenAtOnce:
    """Ten processes add at the same time; killed or not, nothing is lost and nothing doubled."""

    def test_all_of_it_is_there_once(self, path: Path) -> None:
        path.parent.mkdir()
        children = [_start(path, f"van{n}", 20) for n in range(10)]
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        assert codes == [0] * 10
        ids = [case.id for case in kept(path)]
        assert len(ids) == 200
        assert sorted(ids) == sorted(_said(path))

    def test_one_of_them_is_killed_again_and_again(self, path: Path) -> None:
        """Nine go on to their end; the tenth is killed at random moments and begun anew."""
        path.parent.mkdir()
        chance = random.Random(20240531)
        others = [_start(path, f"van{n}", 12) for n in range(9)]
        killed = 0
        for trial in range(12):
            child = _start(path, f"killed{trial}", 10_000)
            time.sleep(chance.random() * 0.12)
            os.kill(child, signal.SIGKILL)
            killed += os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in others]
        assert (killed, codes) == (12, [0] * 9)
        found = kept(path)
        ids = [case.id for case in found]
        assert len(set(ids)) == len(ids)
        assert set(_said(path)) <= set(ids)
        # At most the one that was being added when the kill came was not said any more.
        assert len(set(ids) - set(_said(path))) <= 12
        assert all(case == visit(id=case.id, job=case.job) for case in found)
        with Log(path) as log:
            assert log.add([PROVEN], AT).new == ("proven-1",)

    def test_killed_while_the_log_is_made(self, path: Path) -> None:
        path.parent.mkdir()
        chance = random.Random(31052024)
        for trial in range(15):
            child = _start(path, f"first{trial}", 1)
            time.sleep(chance.random() * 0.02)
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
        with Log(path, make=True) as log:
            log.add([PROVEN], AT)
        assert set(_said(path)) < {case.id for case in kept(path)}


class TestFullDisk:
    """What does not fit is not there at all; what was there before is, and the log opens."""

    @pytest.mark.parametrize("room", [0, 100, 5_000, 20_000, 60_000])
    def test_a_real_limit(self, path: Path, room: int) -> None:
        """The system stops every file at a size, in the middle of a page for most of these."""
        before = [visit(id=f"case-{n}") for n in range(30)]
        with Log(path, make=True) as log:
            log.add(before, AT)

        def add_beyond() -> str:
            with Log(path) as log:
                resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
                said = ""
                for number in range(300):
                    try:
                        log.add([visit(id=f"more-{number}")], AT)
                    except DataError as error:
                        said = str(error)
                        break
                return f"{number} {said}"

        count, _, said = in_a_child(add_beyond).partition(" ")
        assert "cannot be written" in said
        assert "Everything added before is saved, nothing of this was" in said
        assert "\n" not in said
        found = kept(path)
        assert found == [*before, *(visit(id=f"more-{n}") for n in range(int(count)))]
        with Log(path) as log:
            log.add([PROVEN], AT)
        assert kept(path)[-1] == PROVEN

    def test_no_room_for_the_log_itself(self, path: Path) -> None:
        def begin() -> str:
            resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))
            try:
                Log(path, make=True)
            except DataError as error:
                return str(error)
            return "begun"

        assert "cannot be opened" in in_a_child(begin)
        with Log(path, make=True) as log:
            log.add([PROVEN], AT)
        assert kept(path) == [PROVEN]
