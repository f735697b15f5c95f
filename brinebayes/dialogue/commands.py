"""What a typed line means: the number or the id of an answer, or a command with its rest."""

from __future__ import annotations

from brinebayes.dialogue.prompt import Option
from brinebayes.knowledge.names import suggest
from brinebayes.record import record

#: Commands, the longer before the shorter that begins it. Those in the second group take no rest.
WITH_REST = (
    "part missing",
    "part here",
    "pass on",
    "take",
    "saw",
    "said",
    "done",
    "setup",
    "note",
    "found",
)
ALONE = (
    "could not",
    "undo",
    "why",
    "think",
    "list",
    "show",
    "start",
    "now",
    "refilled",
    "go",
    "back",
    "finish",
    "help",
    "quit",
)

_SAME = {"?": "help", "couldnt": "could not", "exit": "quit"}


@record
class Answer:
    """One of the numbered answers was chosen."""

    option: str


@record
class Command:
    """A command; `rest` is what stands after it."""

    name: str
    rest: str = ""


@record
class Nothing:
    """An empty line."""


@record
class Unknown:
    """Neither an answer nor a command; `hint` is the nearest of them, in brackets, or empty."""

    line: str
    hint: str


def parse(line: str, options: tuple[Option, ...]) -> Answer | Command | Nothing | Unknown:
    """Read a line against the answers that are open. A command wins over an answer's id."""
    words = line.split()
    if not words:
        return Nothing()
    text = " ".join(words)
    folded = text.casefold().replace("'", "")
    folded = _SAME.get(folded, folded)
    if folded in ALONE:
        return Command(folded)
    for name in WITH_REST:
        if folded == name or folded.startswith(name + " "):
            return Command(name, text[len(name) :].strip())
    if folded.isdecimal() and 1 <= int(folded) <= len(options):
        return Answer(options[int(folded) - 1].id)
    for option in options:
        if folded == option.id.casefold():
            return Answer(option.id)
    known = [*(option.id for option in options), *WITH_REST, *ALONE]
    return Unknown(text, suggest(text, known))
