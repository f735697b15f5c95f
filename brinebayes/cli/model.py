"""`brinebayes model`: what the model knows, and whether it holds."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

commands = typer.Typer(
    name="model", help="Look at a model and prove it.", no_args_is_help=True, rich_markup_mode=None
)

Folder = Annotated[
    str, typer.Option("--model", help="Folder of a model; the shipped softener if not given.")
]
Json = Annotated[bool, typer.Option("--json", help="JSON instead of text.")]


class Kind(StrEnum):
    """What can be listed."""

    FAULTS = "faults"
    CHECKS = "checks"
    OBSERVATIONS = "observations"
    REPAIRS = "repairs"
    SITE = "site"
    MEASURES = "measures"
    COMPLAINTS = "complaints"
    RULES = "rules"


@commands.command("check")
def check(model: Folder = "softener", json: Json = False) -> None:
    """Prove a model and report what a reader should know about its numbers."""
    from brinebayes.checking.report import report
    from brinebayes.knowledge.reading import read_model
    from brinebayes.knowledge.shipped import model_folder

    folder = model_folder(model)
    found = report(read_model(folder), folder)
    _print(found.to_object() if json else found.to_text(), json)
    if found.errors:
        raise typer.Exit(3)


@commands.command("list")
def list_(kind: Kind, model: Folder = "softener", json: Json = False) -> None:
    """List one kind of thing with ids, names, and outcomes or values."""
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.wording.catalogue import listing, listing_text

    rows = listing(ready(model_folder(model)).model, kind.value)
    _print(rows if json else listing_text(rows), json)


@commands.command("show")
def show(id: str, model: Folder = "softener", json: Json = False) -> None:
    """Explain one thing with its numbers, their basis and their sources."""
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.wording.catalogue import entry, entry_text

    found = entry(ready(model_folder(model)).model, id)
    _print(found if json else entry_text(found), json)


@commands.command("schema")
def schema(file: Annotated[str, typer.Argument(help="For instance faults.yaml.")]) -> None:
    """Print the JSON Schema of one model file, for editors."""
    from brinebayes.knowledge.reading import json_schema

    _print(json_schema(file), json=True)


@commands.command("compare")
def compare(
    before: Annotated[str, typer.Argument(help="Folder of a model, or the name of a shipped one.")],
    after: Annotated[str, typer.Argument(help="The one to compare with it.")],
    json: Json = False,
) -> None:
    """Show in what two models differ, numbers first."""
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.difference import differences
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.wording import versions

    one, other = (ready(model_folder(folder)).model for folder in (before, after))
    found = differences(one, other)
    said = versions.to_object if json else versions.to_text
    _print(said(one, other, found), json)


@commands.command("restore")
def restore(folder: Annotated[str, typer.Argument(help="Folder of a tuned model.")]) -> None:
    """Go back to the version before; the present one is kept under withdrawn."""
    from pathlib import Path

    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.knowledge.versions import restore as go_back
    from brinebayes.wording.tuning import closing

    place = model_folder(folder)
    go_back(Path(place), ready)
    version = ready(place).model.about.version
    typer.echo(closing("restored", folder=folder, version=version), nl=False)


def _print(answer: object, json: bool) -> None:
    if json:
        import json as encoder

        typer.echo(encoder.dumps(answer, ensure_ascii=False, indent=2))
    else:
        typer.echo(answer, nl=False)
