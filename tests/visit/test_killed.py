"""Kill -9 in the middle of a visit, many times: what was answered is in the file, in order."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from collections.abc import Callable
from io import TextIOWrapper
from pathlib import Path

import pytest

from brinebayes.visit.events import CutOff, Event, Note
from brinebayes.visit.record import read_record
from brinebayes.visit.state import fold
from tests.dialogue.drive import SMALL, Sitting, small
from tests.visit.at_a_fixed_hour import run
from tests.visit.terminal import ROOT

COMMAND = (sys.executable, "-m", "tests.visit.at_a_fixed_hour", "visit")

#: A visit with every kind of answer; after each a note, so that its screen shows what was saved.
ANSWERS = (
    *("1", "", "2", "1", "1", "take draw_test", "start", "1", "2", "2", "saw outlet_hardness=hard"),
    *("part missing seal_kit", "undo", "setup cover=on", "take clean_injector", "1"),
    *("take proof", "2", "finish", "2 4", "3"),
)
#: The end closes the visit, and nothing can be noted between the questions of the leave-taking.
LINES = [line for n, a in enumerate(ANSWERS) for line in ((a, f"note {n}") if n < 18 else (a,))]
SCRIPT = "".join(f"{line}\n" for line in LINES).encode()
NOTED = b"Noted."

#: Kills at a moment of the reader's choice, and kills in the middle of writing a line.
FROM_OUTSIDE, WHILE_WRITING = 55, 55


def start(path: Path, in_child: Callable[[], None] = lambda: None) -> tuple[int, int]:
    """The command in a process of its own, its whole input waiting: (process, its output)."""
    read_in, write_in = os.pipe()
    read_out, write_out = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(write_in)
        os.close(read_out)
        sys.stdin = TextIOWrapper(os.fdopen(read_in, "rb"), encoding="utf-8")
        sys.stdout = TextIOWrapper(os.fdopen(write_out, "wb"), encoding="utf-8")
        sys.argv = ["brinebayes", "visit", str(path), "--model", str(SMALL)]
        in_child()
        try:
            run()
        finally:
            os._exit(0)
    os.close(read_in)
    os.close(write_out)
    os.write(write_in, SCRIPT)
    os.close(write_in)
    return child, read_out


def read_all(handle: int, most: int = 1 << 30) -> bytes:
    """What comes, until the other side ends or there is enough of it."""
    seen = b""
    while len(seen) < most and (part := os.read(handle, min(1024, most - len(seen)))):
        seen += part
    return seen


def finish(child: int, handle: int) -> bytes:
    """The rest of the output of a process that ends."""
    rest = read_all(handle)
    os.close(handle)
    os.waitpid(child, 0)
    return rest


def saved(path: Path) -> list[Event]:
    """The events of the file, without the marks below lines that were cut off."""
    return [event for event in read_record(path).events if not isinstance(event, CutOff)]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Event], bytes]:
    """The events and the output of the visit that nobody kills."""
    Sitting(*LINES)  # The children find everything loaded.
    path = tmp_path_factory.mktemp("whole") / "visit.jsonl"
    shown = finish(*start(path))
    events = saved(path)
    assert shown.count(NOTED) == 18
    assert events == list(Sitting(*LINES).events)
    assert notes(events) == [str(n) for n in range(18)]
    return events, shown


def notes(events: list[Event]) -> list[str]:
    """The texts of the notes among events."""
    return [event.text for event in events if isinstance(event, Note)]


def check(path: Path, shown: bytes, whole: list[Event]) -> bool:
    """The file is a beginning of the visit and holds all that was said to be saved.

    True if its last line was cut off.
    """
    if not path.exists() or b"\n" not in path.read_bytes():
        assert NOTED not in shown
        return False
    events = saved(path)
    assert events == whole[: len(events)]
    assert len(notes(events)) >= shown.count(NOTED)
    return bool(read_record(path).torn)


def still_to_type(saved_events: int) -> list[str]:
    """The lines from the first on whose events are not all saved; a line that only turns to
    another act counts to the one after it.
    """
    sitting = Sitting()
    first = 0
    for place, line in enumerate(LINES):
        before = len(sitting.events)
        after = len(sitting.type(line).events)
        if after > saved_events:
            break
        if after > before:
            first = place + 1
    return LINES[first:]


class TestKilled:
    """Every file reads back as a beginning of what was answered, and can be gone on with."""

    def test_from_outside_at_any_moment(
        self, tmp_path: Path, whole: tuple[list[Event], bytes]
    ) -> None:
        events, output = whole
        chance = random.Random(20240531)
        lengths = set()
        for trial in range(FROM_OUTSIDE):
            path = tmp_path / f"{trial}.jsonl"
            child, handle = start(path)
            shown = read_all(handle, chance.randrange(len(output)))
            os.kill(child, signal.SIGKILL)
            check(path, shown + finish(child, handle), events)
            lengths.add(len(saved(path)) if path.exists() and path.stat().st_size else 0)
        assert len(lengths) > 5

    def test_in_the_middle_of_writing(
        self, tmp_path: Path, whole: tuple[list[Event], bytes]
    ) -> None:
        """The system takes a few bytes at a time, and after some of them the process is gone."""
        events, _ = whole
        chance = random.Random(31052024)
        torn = 0
        for trial in range(WHILE_WRITING):
            path = tmp_path / f"{trial}.jsonl"
            writes, size = chance.randrange(1, 250), chance.randrange(1, 40)
            child, handle = start(path, lambda w=writes, s=size: _die_writing(w, s))  # type: ignore[misc]
            torn += check(path, finish(child, handle), events)
        assert torn > WHILE_WRITING // 3

    def test_every_killed_visit_goes_on_to_its_end(
        self, tmp_path: Path, whole: tuple[list[Event], bytes]
    ) -> None:
        """The rest of the answers gives the visit that nobody killed, nothing twice."""
        events, _ = whole
        chance = random.Random(5)
        for trial in range(5):
            path = tmp_path / f"{trial}.jsonl"
            writes = chance.randrange(20, 200)
            finish(*start(path, lambda w=writes: _die_writing(w, 9)))  # type: ignore[misc]
            rest = "".join(f"{line}\n" for line in still_to_type(len(saved(path))))
            line = [*COMMAND, str(path), "--model", str(SMALL)]
            subprocess.run(line, input=rest.encode(), cwd=ROOT, capture_output=True, check=True)
            again, model = saved(path), small().model
            assert notes(again) == notes(events)
            assert fold(model, again) == fold(model, events)

    def test_a_process_of_its_own_from_the_shell(
        self, tmp_path: Path, whole: tuple[list[Event], bytes]
    ) -> None:
        events, output = whole
        for trial, share in enumerate((0.2, 0.7)):
            path = tmp_path / f"{trial}.jsonl"
            with subprocess.Popen(
                [*COMMAND, str(path), "--model", str(SMALL)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                cwd=ROOT,
            ) as process:
                assert process.stdin is not None
                assert process.stdout is not None
                process.stdin.write(SCRIPT)
                process.stdin.close()
                shown = read_all(process.stdout.fileno(), int(len(output) * share))
                process.kill()
                shown += process.stdout.read()
            assert process.returncode == -signal.SIGKILL
            check(path, shown, events)


def _die_writing(writes: int, size: int) -> None:
    """From now on `os.write` takes at most `size` bytes, and the last of `writes` is the end."""
    real = os.write
    left = writes

    def write(handle: int, data: bytes) -> int:
        nonlocal left
        left -= 1
        taken = real(handle, data[:size])
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return taken

    os.write = write  # type: ignore[assignment]
