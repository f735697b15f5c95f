"""A visit file that is being written: locked, appended to, and on the disk after every answer.

Lines are only ever added. What a stopped process left half-written stays in the file, with a
`cut_off` event below it; what this process could not write whole is taken off again before the
error is raised, so that a full disk leaves the file as it was.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from brinebayes.errors import DataError
from brinebayes.visit.events import CutOff, Event
from brinebayes.visit.record import Header, event_lines, header_line, parse, readable


class VisitFile:
    """The file of one visit, held by this process alone. Use as a context manager.

    `record` is what stood in it when it was opened, `begun` whether it was made then. `set_aside`
    is the text of a cut-off line that was found, empty if there was none.
    """

    def __init__(self, path: Path, header: Header) -> None:
        """Open or make the file. Raises DataError when it is held, damaged or not writable."""
        self.path = path
        self._lead = b""
        self.set_aside = ""
        try:
            self._handle = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | _CLOSE, 0o666)
        except OSError as error:
            raise DataError(f"{path}: cannot be opened for writing: {error.strerror}") from error
        try:
            _lock(self._handle, path)
            content = self._content()
            self._size = len(content)
            if _only_a_torn_header(content):
                self.set_aside = content.decode("utf-8", errors="replace")
                os.ftruncate(self._handle, 0)
                content, self._size = b"", 0
            self.begun = not content.strip()
            if self.begun:
                self._write(header_line(header).encode())
                sync_folder(path)
                content = self._content()
            self.record = parse(str(path), content)
            self._mark_torn_line()
        except BaseException:
            os.close(self._handle)
            raise

    def append(self, events: Iterable[Event], at: str = "", advised: str = "") -> None:
        """Add events, with the act that was advised; they are on the disk when this returns.

        Raises DataError if that is not possible; the file is then as it was before.
        """
        text = event_lines(events, at, advised)
        if text:
            self._write(text.encode())

    def close(self) -> None:
        """Let go of the file and its lock."""
        os.close(self._handle)

    def __enter__(self) -> VisitFile:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _mark_torn_line(self) -> None:
        if self.record.torn:
            self.set_aside = self.record.torn
            # Without a time: so that a reader knows each beginning of this very line.
            self._write(b"\n" + event_lines([CutOff()]).encode())
        elif not self.record.ended:
            self._lead = b"\n"

    def _content(self) -> bytes:
        os.lseek(self._handle, 0, os.SEEK_SET)
        parts = []
        while part := os.read(self._handle, 1 << 20):
            parts.append(part)
        return b"".join(parts)

    def _write(self, data: bytes) -> None:
        if os.fstat(self._handle).st_size != self._size:
            raise DataError(
                f"{self.path}: was changed by another program while the visit was open; "
                "nothing more was written to it. Call brinebayes again to go on from there"
            )
        data = self._lead + data
        left = memoryview(data)
        try:
            while left:
                left = left[os.write(self._handle, left) :]
            os.fsync(self._handle)
        except OSError as error:
            self._take_off()
            raise DataError(
                f"{self.path}: cannot be written: {error.strerror}. Everything before is saved, "
                "the last answer is not. Make room and call brinebayes again"
            ) from error
        except BaseException:
            # An interrupt: a line that is whole was answered and stays, a part of one is nothing.
            if left:
                self._take_off()
            raise
        self._size += len(data)
        self._lead = b""

    def _take_off(self) -> None:
        # Where even this fails, the next reader finds a line that was cut off and sets it aside.
        with suppress(OSError):
            os.ftruncate(self._handle, self._size)
            os.fsync(self._handle)


_CLOSE = getattr(os, "O_CLOEXEC", 0)


def _lock(handle: int, path: Path) -> None:
    """Hold the file alone until it is closed; the system lets go when the process ends."""
    try:
        import fcntl
    except ImportError:  # A system without such locks: two processes are then the user's care.
        return
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise DataError(
            f"{path}: another brinebayes has this visit open; end that one first"
        ) from None
    except OSError as error:
        raise DataError(f"{path}: cannot be locked: {error.strerror}") from error


def _only_a_torn_header(content: bytes) -> bool:
    """Whether the writer was stopped while it made the file; nothing was answered yet."""
    start = header_line(Header())[:-2].encode()
    return (
        bool(content.strip())
        and b"\n" not in content
        and (start.startswith(content) or content.startswith(start))
        and not readable(content)
    )


def sync_folder(path: Path) -> None:
    """See that the new name itself is on the disk."""
    with suppress(OSError):  # Not every file system can do this for a folder.
        handle = os.open(path.resolve().parent, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
