"""One finding about a model, and where it stands in the files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from brinebayes.errors import Problem
from brinebayes.knowledge.schema import FILES
from brinebayes.knowledge.well_formed.spots import Spot
from brinebayes.record import record

#: An error refuses the model; a warning is printed.
Severity = Literal["error", "warning"]


@record
class Remark:
    """What is wrong at `spot` and what would be right; `kind` names the question that found it."""

    severity: Severity
    kind: str
    spot: Spot
    says: str


def error(kind: str, spot: Spot, says: str) -> Remark:
    """A remark that refuses the model."""
    return Remark("error", kind, spot, says)


def warning(kind: str, spot: Spot, says: str) -> Remark:
    """A remark that is printed."""
    return Remark("warning", kind, spot, says)


class Places:
    """Finds the line of a remark in the files, when their content is at hand."""

    def __init__(self, files: Mapping[str, bytes] | None = None) -> None:
        # Only a model that has something wrong is parsed a second time.
        self._files = files or {}
        self._roots: dict[str, object] = {}

    def problem(self, remark: Remark) -> Problem:
        """The remark with file, line and column; line 0 without the files."""
        from brinebayes.knowledge import yaml_strict

        spot = remark.spot
        line, column = 0, 0
        if spot.file in self._files:
            if spot.file not in self._roots:
                text = self._files[spot.file].decode("utf-8")
                self._roots[spot.file] = yaml_strict.load(spot.file, text).root
            root = self._roots[spot.file]
            at = yaml_strict.place(root, spot.path, True)  # type: ignore[arg-type]
            line, column = at.line, at.column
        shown = spot.path
        if len(FILES[spot.file]) == 1 and len(shown) > 1 and spot.file != "model.yaml":
            shown = shown[1:]  # the one key at the top of the file says nothing
        return Problem(spot.file, line, column, yaml_strict.path_text(shown), remark.says)

    def problems(self, remarks: Iterable[Remark]) -> tuple[Problem, ...]:
        """All of them, in the order of the files and of the lines."""
        order = {name: place for place, name in enumerate(FILES)}
        found = [self.problem(remark) for remark in remarks]
        return tuple(sorted(found, key=lambda p: (order[p.file], p.line, p.column)))
