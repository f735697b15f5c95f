"""`brinebayes visit`: a visit from door to door, kept in a file."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from brinebayes.cli.shop import ShopFile, model_and_shop

if TYPE_CHECKING:
    from pathlib import Path

    from brinebayes.dialogue.dialogue import Dialogue
    from brinebayes.knowledge.schema import CheckedModel
    from brinebayes.knowledge.shop import Shop
    from brinebayes.visit.file import VisitFile


commands = typer.Typer(rich_markup_mode=None)


class Reader(StrEnum):
    """For whom a summary is."""

    CUSTOMER = "customer"
    OFFICE = "office"


@commands.command("visit")
def visit_command(
    file: Annotated[str, typer.Argument(help="The visit's file; begun if it is not there.")],
    model: Annotated[
        str, typer.Option(help="Folder of a model; the shipped softener if not given.")
    ] = "softener",
    shop: ShopFile = "",
    summary: Annotated[
        Reader | None, typer.Option(help="Print a summary of the visit and change nothing.")
    ] = None,
) -> None:
    """Go through a visit act by act; every answer is saved at once, and it can be gone on with
    days later. Without a terminal the answers are read from a pipe or a file, one a line."""
    from pathlib import Path

    checked, found = model_and_shop(model, shop)
    if summary is None:
        _sit(Path(file), checked, found)
    else:
        _summary(Path(file), checked, found, summary)


def _summary(path: Path, checked: CheckedModel, shop: Shop, reader: Reader) -> None:
    from brinebayes.dialogue.dialogue import open_dialogue
    from brinebayes.dialogue.opening import checked_events
    from brinebayes.visit.record import read_record
    from brinebayes.wording.summary import customer, office

    record = read_record(path)
    dialogue = open_dialogue(checked, checked_events(path, record, checked.model), shop)
    text = customer(dialogue) if reader is Reader.CUSTOMER else office(dialogue, record)
    typer.echo(text, nl=False)


def _sit(path: Path, checked: CheckedModel, shop: Shop) -> None:
    from brinebayes.cli import clock
    from brinebayes.dialogue.dialogue import open_dialogue
    from brinebayes.dialogue.opening import checked_events, model_is
    from brinebayes.visit.events import steps
    from brinebayes.visit.file import VisitFile
    from brinebayes.visit.record import Header
    from brinebayes.wording.screen import screen
    from brinebayes.wording.talk import welcome

    now = model_is(checked.model)
    with VisitFile(path, Header(model=now, at=clock.utc(), id=clock.new_id())) as visit:
        events = checked_events(path, visit.record, checked.model)
        before = visit.record.model
        if before != now:
            visit.append([now], clock.utc())
        typer.echo(welcome(str(path), steps(events), visit.set_aside, before, now), nl=False)
        dialogue = open_dialogue(checked, events, shop)
        typer.echo(screen(dialogue), nl=False)
        try:
            _turns(dialogue, visit)
        except KeyboardInterrupt:
            typer.echo("\nSaved.", err=True)
            raise
    _keep(path, checked)


def _keep(path: Path, checked: CheckedModel) -> None:
    """A visit that has ended goes into the case log; one that is there already is not added."""
    from brinebayes.cases.place import log_path
    from brinebayes.visit.record import read_record

    place = log_path()
    if place is None:
        return
    from brinebayes.cases.amend import same_visit
    from brinebayes.cases.closing import close, is_over
    from brinebayes.cases.log import add_to
    from brinebayes.cli import clock
    from brinebayes.errors import DataError
    from brinebayes.wording.cases import kept, not_kept

    record = read_record(path)
    if not is_over(record):
        return
    try:
        case = close(str(path), record, checked.model)
        added = add_to(place, [case], clock.utc(), same_visit)
    except DataError as error:
        raise DataError(not_kept(str(path), error)) from error
    typer.echo(kept(added), nl=False)


def _turns(dialogue: Dialogue, visit: VisitFile) -> None:
    from brinebayes.cli import clock
    from brinebayes.dialogue.answer import answer
    from brinebayes.dialogue.dialogue import advised_act, proceed
    from brinebayes.wording.screen import screen
    from brinebayes.wording.summary import customer
    from brinebayes.wording.talk import talk

    for line in _lines():
        turn = answer(dialogue, line, clock.today())
        visit.append(turn.events, clock.utc(), advised_act(dialogue))
        for said in turn.said:
            typer.echo(talk(dialogue, said), nl=False)
        if turn.over:
            return
        after = proceed(dialogue, turn)
        if turn.events and after.prompt.kind == "closed":
            typer.echo(f"\n{customer(after)}", nl=False)
            return
        if turn.show or after.scene is not dialogue.scene:
            typer.echo(screen(after), nl=False)
        dialogue = after


def _lines() -> Iterator[str]:
    """What is typed, or what comes through a pipe or from a file; never a question to nobody."""
    terminal = sys.stdin is not None and sys.stdin.isatty()
    if not terminal and not _is_given(sys.stdin):
        return
    if hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(errors="replace")
    while True:
        if terminal:
            typer.echo("> ", nl=False)
            sys.stdout.flush()
        line = sys.stdin.readline()
        if not line:
            return
        yield line


def _is_given(stream: object) -> bool:
    """Whether standard input was given on purpose: a pipe, a socket or a file."""
    import os
    import stat

    if stream is None:
        return False
    try:
        mode = os.fstat(sys.stdin.fileno()).st_mode
    except (OSError, ValueError):
        return True  # Not a file of the system: put there by the program that calls.
    return stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode) or stat.S_ISREG(mode)
