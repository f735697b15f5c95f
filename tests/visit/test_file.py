"""The visit file on the disk: what may go wrong with it, each time with nothing lost."""

from __future__ import annotations

import errno
import os
import resource
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from brinebayes.errors import DataError
from brinebayes.visit.events import CutOff, Done, ModelIs, Note, Saw
from brinebayes.visit.file import VisitFile
from brinebayes.visit.record import Header, event_lines, header_line, read_events, read_record
from tests.visit.children import give_up_rights, in_a_child

HEADER = Header(model=ModelIs("small", "1", "abc"))
FALLS = Saw("level", "falls")
STAYS = Saw("level", "static")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "visit.jsonl"


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that everybody may enter; those of pytest are closed to others."""
    folder = Path(tempfile.mkdtemp(prefix="visit"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


class TestAppend:
    """Answers go to the end and stay there."""

    def test_a_new_file_has_its_header_and_then_its_events(self, path: Path) -> None:
        with VisitFile(path, HEADER) as visit:
            assert visit.begun
            visit.append([FALLS], at="2024-05-31T08:00:00Z")
            visit.append([])
            visit.append([Done("r"), STAYS])
        assert read_record(path).header == HEADER
        assert read_events(path) == (FALLS, Done("r"), STAYS)

    def test_days_later_it_goes_on_where_it_stopped(self, path: Path) -> None:
        with VisitFile(path, HEADER) as visit:
            visit.append([FALLS])
        with VisitFile(path, Header("another header")) as visit:
            assert not visit.begun
            assert visit.record.events == (FALLS,)
            visit.append([STAYS])
        assert read_record(path).header == HEADER
        assert read_events(path) == (FALLS, STAYS)

    def test_every_answer_is_on_the_disk_before_the_next(
        self, path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        synced = []
        monkeypatch.setattr(os, "fsync", lambda handle: synced.append(os.fstat(handle).st_size))
        with VisitFile(path, HEADER) as visit:
            header_size = path.stat().st_size
            folder_size = path.parent.stat().st_size
            assert synced == [header_size, folder_size]
            visit.append([FALLS])
            assert synced[2:] == [path.stat().st_size]

    def test_an_empty_file_is_begun(self, path: Path) -> None:
        path.touch()
        with VisitFile(path, HEADER) as visit:
            assert visit.begun
        assert read_record(path).header == HEADER

    def test_a_last_line_without_its_newline_is_ended_first(self, path: Path) -> None:
        path.write_text((header_line(HEADER) + event_lines([FALLS])).rstrip("\n"))
        with VisitFile(path, HEADER) as visit:
            visit.append([STAYS])
        assert read_events(path) == (FALLS, STAYS)


class TestTornLine:
    """What a stopped writer left is kept in the file and named, and the visit goes on."""

    @pytest.mark.parametrize("kept", [1, 12, 30])
    def test_it_is_set_aside(self, path: Path, kept: int) -> None:
        torn = event_lines([STAYS])[:kept]
        path.write_text(header_line(HEADER) + event_lines([FALLS]) + torn)
        with VisitFile(path, HEADER) as visit:
            assert visit.set_aside == torn
            visit.append([Done("r")])
        assert torn in path.read_text()
        assert read_events(path) == (FALLS, CutOff(), Done("r"))

    @pytest.mark.parametrize("kept", [1, 20, 40])
    def test_a_torn_header_holds_no_answer_and_is_begun_anew(self, path: Path, kept: int) -> None:
        torn = header_line(HEADER)[:kept]
        path.write_text(torn)
        with VisitFile(path, HEADER) as visit:
            assert visit.set_aside == torn
            assert visit.begun
        assert read_record(path).header == HEADER

    @pytest.mark.parametrize("text", ["{", "my notes", '{"schema": "brinebayes.case.1'])
    def test_anything_else_is_left_alone(self, path: Path, text: str) -> None:
        """A single brace might be a header; nobody's notes are."""
        path.write_text(text)
        if text == "{":
            VisitFile(path, HEADER).close()
            return
        with pytest.raises(DataError, match=":1: not a JSON object"):
            VisitFile(path, HEADER)
        assert path.read_text() == text


class TestRefused:
    """One clear line, and the file as it was."""

    def test_a_newer_file(self, path: Path) -> None:
        text = '{"schema": "brinebayes.visit.7"}\n{"event": "dreamt"}\n'
        path.write_text(text)
        with pytest.raises(DataError, match=r"newer brinebayes \(brinebayes\.visit\.7\)"):
            VisitFile(path, HEADER)
        assert path.read_text() == text

    def test_no_such_folder(self, path: Path) -> None:
        with pytest.raises(DataError, match="cannot be opened for writing: No such file or dir"):
            VisitFile(path / "x.jsonl", HEADER)

    def test_a_folder(self, tmp_path: Path) -> None:
        with pytest.raises(DataError, match="cannot be opened for writing: Is a directory"):
            VisitFile(tmp_path, HEADER)

    def test_a_read_only_folder(self, open_folder: Path) -> None:
        open_folder.chmod(0o555)

        def try_it() -> str:
            give_up_rights()
            try:
                VisitFile(open_folder / "visit.jsonl", HEADER)
            except DataError as error:
                return str(error)
            return "opened"

        said = in_a_child(try_it)
        assert said.endswith("cannot be opened for writing: Permission denied")
        assert list(open_folder.iterdir()) == []

    def test_a_read_only_file_can_be_read_but_not_gone_on_with(self, open_folder: Path) -> None:
        path = open_folder / "visit.jsonl"
        path.write_text(header_line(HEADER) + event_lines([FALLS]))
        path.chmod(0o444)

        def try_it() -> str:
            give_up_rights()
            assert read_events(path) == (FALLS,)
            try:
                VisitFile(path, HEADER)
            except DataError as error:
                return str(error)
            return "opened"

        assert in_a_child(try_it).endswith("cannot be opened for writing: Permission denied")


class TestTwoAtOnce:
    """Only one process has a visit open."""

    def test_the_second_gets_one_line(self, path: Path) -> None:
        def second() -> str:
            try:
                VisitFile(path, HEADER)
            except DataError as error:
                return str(error)
            return "opened"

        with VisitFile(path, HEADER) as visit:
            said = in_a_child(second)
            assert said == f"{path}: another brinebayes has this visit open; end that one first"
            visit.append([FALLS])
        assert in_a_child(second) == "opened"
        assert read_events(path) == (FALLS,)

    def test_a_program_that_knows_no_lock_is_noticed(self, path: Path) -> None:
        with VisitFile(path, HEADER) as visit:
            with path.open("a") as editor:
                editor.write(event_lines([Note("from an editor")]))
            before = path.read_text()
            with pytest.raises(DataError, match="was changed by another program"):
                visit.append([FALLS])
        assert path.read_text() == before


class TestFullDisk:
    """What cannot be written whole is not written at all."""

    @pytest.mark.parametrize("room", [0, 1, 17, 60])
    def test_a_real_limit(self, path: Path, room: int) -> None:
        """The system stops the file at a size, in the middle of a line for most of these."""
        with VisitFile(path, HEADER) as visit:
            visit.append([FALLS])
        size = path.stat().st_size

        def write_beyond() -> str:
            visit = VisitFile(path, HEADER)
            resource.setrlimit(resource.RLIMIT_FSIZE, (size + room, size + room))
            try:
                visit.append([Note("x" * 100)])
            except DataError as error:
                return str(error)
            return "written"

        said = in_a_child(write_beyond)
        assert "cannot be written: File too large. Everything before is saved" in said
        assert "\n" not in said
        assert path.stat().st_size == size
        with VisitFile(path, HEADER) as visit:
            assert visit.set_aside == ""
            visit.append([STAYS])
        assert read_events(path) == (FALLS, STAYS)

    def test_a_new_file_without_room_for_its_header(self, path: Path) -> None:
        def begin() -> str:
            resource.setrlimit(resource.RLIMIT_FSIZE, (10, 10))
            try:
                VisitFile(path, HEADER)
            except DataError as error:
                return str(error)
            return "begun"

        assert "cannot be written: File too large" in in_a_child(begin)
        assert path.read_bytes() == b""
        with VisitFile(path, HEADER) as visit:
            assert visit.begun

    @pytest.mark.parametrize("call", ["write", "fsync"])
    def test_no_space_left(self, path: Path, call: str, monkeypatch: pytest.MonkeyPatch) -> None:
        """ENOSPC from either call, the first after a part of the line went through."""
        real = os.write

        def part_then_full(handle: int, data: memoryview) -> int:
            if len(data) < 30:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return real(handle, data[:20])

        def full(handle: int) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        with VisitFile(path, HEADER) as visit:
            visit.append([FALLS])
            size = path.stat().st_size
            with monkeypatch.context() as patch:
                patch.setattr(os, call, part_then_full if call == "write" else full)
                with pytest.raises(DataError, match="cannot be written: No space left on device"):
                    visit.append([STAYS])
            assert path.stat().st_size == size
            visit.append([Done("r")])
        assert read_events(path) == (FALLS, Done("r"))


class TestInterrupt:
    """Ctrl-C in the middle of writing leaves whole lines only."""

    @pytest.mark.parametrize(("written", "stays"), [(10, False), (10_000, True)])
    def test_part_of_a_line_is_taken_off_and_a_whole_one_stays(
        self, path: Path, written: int, stays: bool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        real = os.write

        def interrupted(*_: object) -> int:
            raise KeyboardInterrupt

        def write(handle: int, data: memoryview) -> int:
            monkeypatch.setattr(os, "write", interrupted)
            monkeypatch.setattr(os, "fsync", interrupted)
            return real(handle, data[:written])

        with VisitFile(path, HEADER) as visit:
            visit.append([FALLS])
            with monkeypatch.context() as patch:
                patch.setattr(os, "write", write)
                with pytest.raises(KeyboardInterrupt):
                    visit.append([STAYS])
                monkeypatch.undo()
        assert read_record(path).torn == ""
        assert read_events(path) == ((FALLS, STAYS) if stays else (FALLS,))
