"""`brinebayes score`: how good the ranking of a model is on closed cases."""

from __future__ import annotations

from typing import Annotated

import typer

from brinebayes.cli.cases import LogFile
from brinebayes.cli.model import Folder, Json
from brinebayes.cli.tune import source

commands = typer.Typer(rich_markup_mode=None)


@commands.command("score")
def score(
    cases: Annotated[
        str, typer.Argument(help="A file of cases, one a line; the case log if not given.")
    ] = "",
    model: Folder = "softener",
    against: Annotated[
        str, typer.Option(metavar="MODEL", help="Another model, on the same cases.")
    ] = "",
    resample: Annotated[
        str, typer.Option(help="What intervals are resampled by: case, site or technician.")
    ] = "case",
    worst: Annotated[int, typer.Option(help="Cases that were got most wrong to keep.")] = 10,
    everything: Annotated[bool, typer.Option("--all", help="Show every group and case.")] = False,
    csv: Annotated[bool, typer.Option("--csv", help="Print every figure as one table.")] = False,
    sensitivity: Annotated[
        int,
        typer.Option(
            metavar="DRAWS",
            help="Draw the numbers of the model so often, and move each by itself; takes minutes.",
        ),
    ] = 0,
    html: Annotated[
        str, typer.Option(metavar="FILE", help="Write a report with pictures there, one file.")
    ] = "",
    log: LogFile = "",
    json: Json = False,
) -> None:
    """Show how well a model ranked the faults that were found, step by step."""
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.scoring.score import score as measure
    from brinebayes.wording import scoring as say
    from brinebayes.wording import scoring_data as data

    other = ready(model_folder(against)).model if against else None
    known = ready(model_folder(model)).model
    found = measure(known, source(cases, log)(), other, resample, worst)
    hangs = None
    if sensitivity:
        from brinebayes.sensitivity.sensitivity import sensitivity as look

        hangs = look(known, source(cases, log)(), sensitivity, _progress)
    if html:
        from pathlib import Path

        from brinebayes.wording.scoring_page import page

        Path(html).write_text(page(found, hangs), encoding="utf-8")
        typer.echo(say.say("written", file=html), err=True)
    if json:
        from json import dumps

        typer.echo(dumps(data.to_object(found, hangs), ensure_ascii=False, allow_nan=False))
    elif csv:
        typer.echo(data.to_csv(found), nl=False)
    else:
        typer.echo(say.to_text(found, everything), nl=False)
        if hangs is not None:
            from brinebayes.wording.sensitivity import to_text

            typer.echo(f"\n{to_text(hangs)}", nl=False)


def _progress(what: str, done: int, of: int) -> None:
    """How far it is, on a terminal alone."""
    import sys

    if sys.stderr.isatty():
        typer.echo(f"\r{what}: {done} of {of}", nl=done == of, err=True)
