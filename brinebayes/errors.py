"""Every error that brinebayes raises on purpose, in one tree.

    BrinebayesError               exit code 1
      UsageError                  2   an option, id or outcome that does not exist
      ModelError                  3   a model file is not well-formed or not proven
      DataError                   4   a visit or case file is not well-formed
      EvidenceConflict            5   what was seen cannot hold together
      UnsafeRoute                 6   no safe way leads to the setup that is needed
      NotBetterError              7   a tuned model is no better than the one it would replace

Each carries one line that says where, what, and what would be right.
Ctrl-C ends with 130.
"""

from __future__ import annotations


class BrinebayesError(Exception):
    """Base of the tree; `exit_code` is what the command line returns."""

    exit_code = 1


class UsageError(BrinebayesError):
    """The caller named something that does not exist or does not fit."""

    exit_code = 2


class Problem:
    """One thing wrong in a file: where it stands and what would be right.

    `file` is as the caller named it; `line` and `column` count from 1 (0: the whole file).
    """

    __slots__ = ("column", "field", "file", "line", "says")

    def __init__(self, file: str, line: int, column: int, field: str, says: str) -> None:
        self.file = file
        self.line = line
        self.column = column
        self.field = field
        self.says = says

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        return f"{place}: {self.field}: {self.says}" if self.field else f"{place}: {self.says}"


class ModelError(BrinebayesError):
    """A model is refused; `problems` holds every reason that was found, in file order."""

    exit_code = 3

    def __init__(self, problems: tuple[Problem, ...] | str) -> None:
        self.problems = () if isinstance(problems, str) else problems
        text = problems if isinstance(problems, str) else "\n".join(map(str, problems))
        super().__init__(text)


class DataError(BrinebayesError):
    """A visit or case file is refused, with its place."""

    exit_code = 4


class EvidenceConflict(BrinebayesError):
    """The evidence has probability zero; `between` names what cannot hold together."""

    exit_code = 5

    def __init__(self, message: str, between: tuple[str, ...] = ()) -> None:
        self.between = between
        super().__init__(message)


class UnsafeRoute(BrinebayesError):
    """No route that keeps every invariant leads to the setup that an act needs."""

    exit_code = 6


class NotBetterError(BrinebayesError):
    """A tuned model is no better than the one it would replace, or too few cases tell."""

    exit_code = 7
