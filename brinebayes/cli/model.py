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


@commands.command("export")
def export(
    file: Annotated[str, typer.Argument(help="Where to write it, as XMLBIF.")],
    model: Folder = "softener",
    site: Annotated[
        list[str], typer.Option(metavar="KEY=VALUE", help="What is known of the site.")
    ] = [],  # noqa: B006
) -> None:
    """Write the network for other libraries; ids stay as they are, and it is read back to check."""
    from pathlib import Path

    from brinebayes.checking.ready import ready
    from brinebayes.cli.order import pair
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.network.build import build
    from brinebayes.network.exchange import export_xmlbif

    known = dict(pair("site", text, "KEY=VALUE") for text in site)
    network = build(ready(model_folder(model)).model, known).network
    apart = export_xmlbif(network, Path(file))
    variables, largest = len(network.variables), max(t.values.size for t in network.tables)
    typer.echo(
        f"{file}: {variables} variables, largest table {largest} entries;"
        f" read back, largest difference {apart:.0e}",
        err=True,
    )


@commands.command("draw")
def draw(
    file: Annotated[str, typer.Argument(help="Where to write it, as SVG.")],
    model: Folder = "softener",
    around: Annotated[
        str, typer.Option(metavar="ID", help="Only this, its causes and what hangs on it.")
    ] = "",
) -> None:
    """Draw what hangs on what, causes on the left."""
    from pathlib import Path

    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.network.layers import picture
    from brinebayes.wording.picture import svg

    known = ready(model_folder(model)).model
    Path(file).write_text(svg(known, picture(known, around)), encoding="utf-8")


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
