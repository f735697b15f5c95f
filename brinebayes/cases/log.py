"""The case log: one SQLite file to which cases are added, each addition whole or not at all.

A case that changes (a fault confirmed later, a call-back) gets a further revision; nothing is
overwritten or deleted. Several processes may add at once; the file must lie on a local disk, since
the locks of network shares cannot be relied on.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from types import TracebackType

from brinebayes.cases.lines import parse_line, to_line
from brinebayes.cases.record import Case
from brinebayes.cases.tables import APPLICATION, VERSION, digest_of, migrate
from brinebayes.errors import DataError, UsageError
from brinebayes.knowledge.names import suggest
from brinebayes.record import record
from brinebayes.visit.file import sync_folder

#: Seconds that a process waits for the others to finish.
PATIENCE_S = 60.0

_CURRENT = (
    "SELECT id, line FROM cases AS c WHERE revision = "
    "(SELECT MAX(revision) FROM cases AS d WHERE d.place = c.place)"
)


#: The revision to keep, from the case as it is in the log and the one that is added again.
Again = Callable[[Case, Case], Case]


def replaced_by_new(_: Case, new: Case) -> Case:
    """The new one counts."""
    return new


@record
class Added:
    """Ids that were new, those that were there already, and those that got a further revision."""

    new: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    revised: tuple[str, ...] = ()


@record
class Revision:
    """One state of a case in the log; `added`: when it was written (UTC)."""

    number: int
    added: str
    case: Case


def add_to(
    path: Path, cases: Iterable[Case], at: str, again: Again | None = None, *, dry_run: bool = False
) -> Added:
    """As `Log.add` to the log at `path`, which is begun if there is none, but not in a dry run."""
    if dry_run and not path.exists():
        return Added(new=tuple(case.id for case in cases))
    with Log(path, make=True) as log:
        return log.add(cases, at, again, dry_run=dry_run)


class Log:
    """An open case log. Use as a context manager; everything raises DataError naming the file."""

    def __init__(self, path: Path, *, make: bool = False) -> None:
        """Open a log, brought to this version; `make`: begin one if there is none."""
        self.path = path
        _see_to_file(path, make)
        with self._said("opened"):
            self._base = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
            try:
                self._set_up()
            except BaseException:
                self._base.close()
                raise

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    def __enter__(self) -> Log:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # --- adding --------------------------------------------------------------------------------

    def add(
        self, cases: Iterable[Case], at: str, again: Again | None = None, *, dry_run: bool = False
    ) -> Added:
        """Add cases, all or none; they are on the disk when this returns, unless `dry_run`.

        `at`: the time (UTC). What was in the log at any time adds nothing. A case that is there
        with other content is refused, or gets the revision that `again` makes of the last and the
        new.
        """
        added: dict[str, list[str]] = {"new": [], "same": [], "revised": []}
        with self._writing(keep=not dry_run):
            for case in cases:
                added[self._put(case, at, again)].append(case.id)
        return Added(*(tuple(ids) for ids in added.values()))

    def change(self, id: str, at: str, how: Callable[[Case], Case]) -> Case:
        """A further revision of a case, as `how` makes it from the last. Raises UsageError."""
        with self._writing():
            revisions = self.history(id)
            before, case = revisions[-1], how(revisions[-1].case)
            if case != before.case:
                place = self._base.execute("SELECT place FROM cases WHERE id = ?", (id,)).fetchone()
                self._insert(place[0], before.number + 1, id, to_line(case), at)
        return case

    def _put(self, case: Case, at: str, again: Again | None) -> str:
        line = to_line(case)
        rows = self._base.execute(
            "SELECT place, revision, line FROM cases WHERE id = ? ORDER BY revision", (case.id,)
        ).fetchall()
        if not rows:
            self._insert(self._next_place(), 1, case.id, line, at)
            return "new"
        if any(self._is_same(case, line, before) for _, _, before in rows):
            return "same"
        if again is None:
            raise DataError(
                f"{self.path}: the case {case.id} is there with other content; nothing was added. "
                "To keep the new one as a further revision: --revise"
            )
        place, revision, last = rows[-1]
        line = to_line(again(self._parsed(case.id, last), case))
        if line == last:
            return "same"
        self._insert(place, revision + 1, case.id, line, at)
        return "revised"

    def _is_same(self, case: Case, line: str, before: str) -> bool:
        """Whether it was there already; that it is now read with another model changes nothing."""
        if line == before:
            return True
        old = self._parsed(case.id, before)
        return replace(case, model=old.model) == old and case.model.id == old.model.id

    def _insert(self, place: int, revision: int, id: str, line: str, at: str) -> None:
        self._base.execute(
            "INSERT INTO cases (place, id, revision, line, digest, added) VALUES (?,?,?,?,?,?)",
            (place, id, revision, line, digest_of(line), at),
        )

    def _next_place(self) -> int:
        last: int = self._base.execute("SELECT COALESCE(MAX(place), 0) FROM cases").fetchone()[0]
        return last + 1

    # --- reading -------------------------------------------------------------------------------

    def cases(self) -> Iterator[Case]:
        """The last revision of every case, in the order in which cases first came, one by one."""
        with self._said("read"):
            for id, line in self._base.execute(f"{_CURRENT} ORDER BY place"):
                yield self._parsed(id, line)

    def ids(self) -> tuple[str, ...]:
        """The ids, in the order in which cases first came."""
        with self._said("read"):
            rows = self._base.execute("SELECT id FROM cases WHERE revision = 1 ORDER BY place")
            return tuple(id for (id,) in rows)

    def get(self, id: str) -> Case:
        """The last revision of one case. Raises UsageError if there is none of this id."""
        return self.history(id)[-1].case

    def history(self, id: str) -> tuple[Revision, ...]:
        """Every revision of one case, the oldest first. Raises UsageError as `get`."""
        with self._said("read"):
            rows = self._base.execute(
                "SELECT revision, added, line FROM cases WHERE id = ? ORDER BY revision", (id,)
            ).fetchall()
            if not rows:
                hint = suggest(id, self.ids())
                raise UsageError(f"{self.path}: there is no case '{id}'{hint}")
            return tuple(Revision(n, at, self._parsed(id, line)) for n, at, line in rows)

    def damage(self) -> tuple[str, ...]:
        """What is wrong with the file or with a record in it; empty if all is well."""
        with self._said("read"):
            found = [str(row[0]) for row in self._base.execute("PRAGMA integrity_check")]
            found = [] if found == ["ok"] else found
            for id, line, digest in self._base.execute("SELECT id, line, digest FROM cases"):
                if digest_of(line) != digest:
                    found.append(f"case {id}: the record is not the one that was written")
                    continue
                try:
                    if self._parsed(id, line).id != id:
                        found.append(f"case {id}: the record has another id")
                except DataError as error:
                    found.append(str(error))
            return tuple(found)

    def backup(self, to: Path) -> None:
        """A copy of the log as it is now, while others may go on adding; replaces `to` at once."""
        if to.exists() and to.samefile(self.path):
            raise UsageError(f"{to}: is the case log itself; a backup is another file")
        if to.with_name(f"{to.name}-wal").exists():
            raise DataError(f"{to}: is in use; choose another file")
        temporary = to.with_name(f"{to.name}.{os.getpid()}.tmp")
        try:
            with self._said("copied"):
                copy = sqlite3.connect(temporary)
                try:
                    self._base.backup(copy)
                    # A copy is one file: without a journal beside it that could be left behind.
                    copy.execute("PRAGMA journal_mode=DELETE")
                finally:
                    copy.close()
            with temporary.open("rb") as file:
                os.fsync(file.fileno())
            os.replace(temporary, to)
            sync_folder(to)
        except OSError as error:
            raise DataError(f"{to}: cannot be written: {error.strerror}") from error
        finally:
            with suppress(OSError):
                temporary.unlink()

    def _parsed(self, id: str, line: str) -> Case:
        return parse_line(f"{self.path}: case {id}", line.encode())

    # --- the file ------------------------------------------------------------------------------

    def _set_up(self) -> None:
        # In this order: another process may be making the log, which it does all at once.
        tables = self._base.execute("SELECT COUNT(*) FROM sqlite_schema").fetchone()[0]
        kind = self._base.execute("PRAGMA application_id").fetchone()[0]
        if tables and kind != APPLICATION:
            raise DataError(f"{self.path}: is a database, but no case log; nothing was changed")
        self._use_wal()
        # Full: what was added stays added even if the power goes.
        self._base.execute("PRAGMA synchronous=FULL")
        if self._version() < VERSION:
            with self._transaction():
                migrate(self._base, self._version())
            sync_folder(self.path)
        if self._version() > VERSION:
            raise DataError(
                f"{self.path}: written by a newer brinebayes (version {self._version()} of the "
                f"log; this one reads {VERSION}). Update brinebayes to use it"
            )

    def _use_wal(self) -> None:
        """Others who open the log at the same moment are waited for."""
        until = time.monotonic() + PATIENCE_S
        while True:
            try:
                mode = self._base.execute("PRAGMA journal_mode=WAL").fetchone()[0]
                break
            except sqlite3.OperationalError as error:
                if "locked" not in str(error) or time.monotonic() > until:
                    raise
                time.sleep(0.01)
        if mode != "wal":
            raise DataError(
                f"{self.path}: cannot be kept safely there ({mode}); put it on a local disk"
            )

    def _version(self) -> int:
        found: int = self._base.execute("PRAGMA user_version").fetchone()[0]
        return found

    @contextmanager
    def _writing(self, keep: bool = True) -> Iterator[None]:
        with self._said("written"), self._transaction(keep):
            yield

    @contextmanager
    def _transaction(self, keep: bool = True) -> Iterator[None]:
        """All or nothing. IMMEDIATE: whoever means to write waits before reading, not after."""
        self._base.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._base.execute("COMMIT" if keep else "ROLLBACK")
        except BaseException:
            with suppress(sqlite3.Error):
                self._base.execute("ROLLBACK")
            raise

    @contextmanager
    def _said(self, what: str) -> Iterator[None]:
        """Errors of the database as one line with what to do."""
        try:
            yield
        except sqlite3.Error as error:
            raise DataError(f"{self.path}: cannot be {what}: {error}. {_way_out(error)}") from error


def _way_out(error: sqlite3.Error) -> str:
    if isinstance(error, sqlite3.OperationalError):
        return (
            "Everything added before is saved, nothing of this was; make room, or see that the "
            "folder may be written to, and try again"
        )
    return "If the file is damaged, go back to a backup and add what came since (see the README)"


def _see_to_file(path: Path, make: bool) -> None:
    """The file must be there before it is opened, and be nobody else's to read."""
    if path.is_file():
        return
    if not make:
        raise DataError(
            f"{path}: there is no case log yet; a finished visit or an import begins it"
        )
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    except OSError as error:
        raise DataError(f"{path}: cannot be made: {error.strerror}") from error
