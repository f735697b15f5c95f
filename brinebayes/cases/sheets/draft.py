"""A first mapping from the sheet itself: what can be recognised is filled in, the rest listed.

A draft is for a person to finish. Columns whose name and words are the model's own are mapped;
every other one is left out, with its words in a comment.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path

from brinebayes.cases.sheets.cells import (
    Broken,
    Cell,
    Sheet,
    is_workbook,
    read_text,
    read_workbook,
    sheet_names,
    text_of,
)
from brinebayes.cases.sheets.mapping import folded
from brinebayes.errors import DataError
from brinebayes.knowledge.schema import Model
from brinebayes.record import record

#: Rows in which the header is looked for, and words of a column that are listed.
HEADER_WITHIN, MOST_WORDS = 20, 12
#: Letters of an entry beyond which its column holds remarks.
LONGEST_WORD = 25

CLOSED = "{is: closed}"

_SEPARATORS = (";", ",", "\t", "|")


@record
class _Guess:
    """What a column may be: its line in the mapping, and what a reader should know."""

    line: str
    remark: str = ""


def draft(path: Path, model: Model, sheet_name: str = "") -> str:
    """The text of a mapping file for a sheet. Raises DataError if it cannot be read at all."""
    settings: dict[str, object] = {}
    if is_workbook(path):
        name = sheet_name or sheet_names(path)[0]
        settings["sheet"] = name
        sheet = read_workbook(path, name)
    else:
        settings["encoding"], settings["separator"] = _written_in(path)
        sheet = read_text(path, str(settings["encoding"]), str(settings["separator"]))
    row = header_row(sheet)
    settings["header_row"] = row + 1
    cells = sheet.rows[row] if sheet.rows else ()
    columns = {
        text_of(cell): [r[place] for r in sheet.rows[row + 1 :] if place < len(r)]
        for place, cell in enumerate(cells)
        if text_of(cell)
    }
    if not columns:
        raise DataError(f"{path}: no header was found in the first {HEADER_WITHIN} rows")
    guesses: dict[str, _Guess] = {}
    for name, below in columns.items():
        guess = _guess(name, below, model)
        if guess.line == CLOSED and any(other.line == CLOSED for other in guesses.values()):
            guess = _Guess("{is: left_out}", "dates too")
        guesses[name] = guess
    return _text(settings, guesses)


def header_row(sheet: Sheet) -> int:
    """The first row, counted from 0, that is about as full as any and all words."""
    rows = sheet.rows[:HEADER_WITHIN]
    fullest = max((_filled(row) for row in rows), default=0)
    for place, row in enumerate(rows):
        words = all(isinstance(cell, str) for cell in row if cell is not None)
        if words and _filled(row) >= max(0.6 * fullest, 1):
            return place
    return 0


def _filled(row: Sequence[Cell]) -> int:
    return sum(cell is not None for cell in row)


def _written_in(path: Path) -> tuple[str, str]:
    """Encoding and separator of a text file: the separator that splits its rows most evenly."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror}") from error
    try:
        text, encoding = content.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        text, encoding = content.decode("cp1252", errors="replace"), "cp1252"
    lines = [line for line in text.splitlines() if line.strip()][:HEADER_WITHIN]

    def evenness(separator: str) -> tuple[int, int]:
        counts = Counter(line.count(separator) for line in lines if separator in line)
        number, times = max(counts.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
        return times, number

    return encoding, max(_SEPARATORS, key=evenness)


# --- one column --------------------------------------------------------------------------------


def _guess(name: str, below: Sequence[Cell], model: Model) -> _Guess:
    written = [cell for cell in below if cell is not None and not isinstance(cell, Broken)]
    if any(isinstance(cell, date) for cell in written):
        others = [text_of(cell) for cell in written if not isinstance(cell, date)]
        return _Guess(CLOSED, f"dates, and {others[0]}" if others else "dates")
    words = tuple(Counter(text_of(cell) for cell in written))
    shown = "; ".join(words)
    if len(words) > MOST_WORDS or any(len(word) > LONGEST_WORD for word in words):
        shown = f"{len(words)} different entries"  # May be remarks, which are nobody else's.
    for kind, of, known in _sets(model):
        named = folded(name) in {folded(of), folded(_title(model, kind, of))} if of else False
        meant = {word: known[folded(word)] for word in words if folded(word) in known}
        if not named and not (not of and meant and len(meant) == len(words)):
            continue
        missing = [word for word in words if word not in meant]
        values = {word: id for word, id in meant.items() if word != id}
        parts = [f"is: {kind}", *([f"of: {of}"] if of else [])]
        if values:
            listed = ", ".join(f"{_quoted(word)}: {id}" for word, id in values.items())
            parts.append(f"values: {{{listed}}}")
        remark = f"say what these mean: {'; '.join(missing[:MOST_WORDS])}" if missing else ""
        return _Guess(f"{{{', '.join(parts)}}}", remark)
    return _Guess("{is: left_out}", shown)


def _sets(model: Model) -> Iterable[tuple[str, str, Mapping[str, str]]]:
    """(kind, of, word folded -> id) of everything that a column may speak of."""
    for name, condition in model.site.items():
        yield "site", name, _words({v: value.name for v, value in condition.values.items()})
    for check in model.checks.values():
        for name, observation in check.observations.items():
            yield "saw", name, _words(observation.outcomes)
    yield "complaint", "", _words({n: item.name for n, item in model.complaints.items()})
    yield "done", "", _words({n: item.name for n, item in model.repairs.items()})
    yield "found", "", _words({n: item.name for n, item in model.faults.items()})


def _words(named: Mapping[str, str]) -> dict[str, str]:
    return {folded(word): id for id, name in named.items() for word in (name, id)}


def _title(model: Model, kind: str, of: str) -> str:
    return model.site[of].name if kind == "site" else model.observation(of).name


# --- the file ----------------------------------------------------------------------------------


def _text(settings: Mapping[str, object], columns: Mapping[str, _Guess]) -> str:
    dated = any(guess.line == CLOSED for guess in columns.values())
    lines = [
        "# What each column says, in the ids of the model (brinebayes model list ...).",
        "# Columns from left to right are the order of the visit: what stands right of a repair",
        "# was seen after it. A blank cell means not checked; so do the words listed under blank.",
        *(f"{name}: {_quoted(value)}" for name, value in settings.items()),
        'decimal: "."',
        "# How dates are written where they are words; day and month are never guessed:",
        '# dates: "%d.%m.%Y"',
        "blank: []",
        "# How visits ended, if no column says so:",
        "ended: repaired_proof_pending",
        "columns:",
    ]
    if not dated:
        lines.append("  # One column must be {is: closed}, the day of the visit.")
    for name, guess in columns.items():
        remark = f"  # {guess.remark}" if guess.remark else ""
        lines.append(f"  {_quoted(name)}: {guess.line}{remark}")
    return "\n".join(lines) + "\n"


def _quoted(value: object) -> str:
    """A value as YAML; text in double quotes, as JSON writes it."""
    return json.dumps(value, ensure_ascii=False)
