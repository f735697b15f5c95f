"""`brinebayes tune`: what closed cases say about the numbers of a model."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from brinebayes.cli.cases import LogFile
from brinebayes.cli.model import Folder, Json

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from brinebayes.cases.record import Case

commands = typer.Typer(rich_markup_mode=None)


@commands.command("tune")
def tune(
    cases: Annotated[
        str, typer.Argument(help="A file of cases, one a line; the case log if not given.")
    ] = "",
    model: Folder = "softener",
    group: Annotated[
        list[str],
        typer.Option(
            help="What to learn, in the place of the usual: shares, misreadings, repairs, minutes,"
            " sites, links, observations."
        ),
    ] = [],  # noqa: B006
    also: Annotated[list[str], typer.Option(help="What to learn beside the usual.")] = [],  # noqa: B006
    window: Annotated[
        int, typer.Option(help="Days after which a customer has not called again.")
    ] = 14,
    fade: Annotated[
        float, typer.Option(help="Days after which a case counts half; 0: all count the same.")
    ] = 0.0,
    keep_back: Annotated[
        float, typer.Option(help="The part of the cases on which the new numbers are tried.")
    ] = 0.25,
    write: Annotated[
        str, typer.Option(metavar="FOLDER", help="Write a new version of the model there.")
    ] = "",
    everything: Annotated[bool, typer.Option("--all", help="Show every number.")] = False,
    log: LogFile = "",
    json: Json = False,
) -> None:
    """Show what cases would change in a model; nothing is written without --write."""
    from pathlib import Path

    from brinebayes.checking.ready import ready
    from brinebayes.cli import clock
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.tuning.gather import Terms
    from brinebayes.tuning.numbers import SAFE
    from brinebayes.tuning.tune import tune as learn
    from brinebayes.wording import tuning as say

    folder = model_folder(model)
    terms = Terms(clock.today().isoformat(), window, fade or None)
    groups = (*(group or SAFE), *also)
    found = learn(ready(folder).model, source(cases, log), terms, groups, keep_back)
    _print(say.to_object(found), say.to_text(found, everything), json)
    if not write:
        typer.echo(say.closing("dry"), nl=False, err=True)
        return
    from brinebayes.knowledge.versions import write as put
    from brinebayes.tuning.write import edits, next_version

    changed = edits(found, folder)
    if not changed:
        typer.echo(say.closing("nothing_to_write"), nl=False, err=True)
        return
    put(folder, Path(write), changed, ready)
    version = next_version(found.start)
    typer.echo(say.written_text(found, write, version), nl=False, err=True)


def source(file: str, log: str) -> Callable[[], Iterable[Case]]:
    """Where the cases come from, to be gone through as often as needed."""
    from brinebayes.cases.lines import read_cases
    from brinebayes.cases.log import Log
    from brinebayes.cases.place import required_path
    from brinebayes.knowledge.shipped import case_file

    if file:
        path = case_file(file)
        return lambda: read_cases(path)
    place = required_path(log)

    def from_log() -> Iterable[Case]:
        with Log(place) as opened:
            yield from opened.cases()

    return from_log


def _print(answer: object, text: str, json: bool) -> None:
    if json:
        from json import dumps

        typer.echo(dumps(answer, ensure_ascii=False))
    else:
        typer.echo(text, nl=False)
