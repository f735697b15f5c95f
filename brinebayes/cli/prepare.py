"""`brinebayes prepare`: the sheet for a call."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from brinebayes.cli.order import pair
from brinebayes.cli.shop import ShopFile, model_and_shop

if TYPE_CHECKING:
    from brinebayes.knowledge.schema import Model
    from brinebayes.visit.events import Event

commands = typer.Typer(rich_markup_mode=None)


@commands.command("prepare")
def prepare_command(
    model: Annotated[
        str, typer.Option(help="Folder of a model; the shipped softener if not given.")
    ] = "softener",
    complaint: Annotated[
        list[str], typer.Option(metavar="TEXT", help="What the customer says: an id, or words.")
    ] = [],  # noqa: B006
    site: Annotated[
        list[str], typer.Option(metavar="KEY=VALUE", help="Something about the place.")
    ] = [],  # noqa: B006
    saw: Annotated[
        list[str], typer.Option(metavar="OBSERVATION=OUTCOME", help="What the customer answers.")
    ] = [],  # noqa: B006
    shop: ShopFile = "",
    json: Annotated[bool, typer.Option("--json", help="One JSON object.")] = False,
) -> None:
    """What to ask on the phone, what the customer does now, what to carry, how long it takes."""
    from brinebayes.advice.prepare.sheet import VISITS, prepare
    from brinebayes.visit.state import fold
    from brinebayes.wording.prepare import to_object, to_text

    checked, figures = model_and_shop(model, shop)
    events = _events(checked.model, complaint, site, saw)
    state = fold(checked.model, events)
    errors = typer.get_text_stream("stderr")
    with typer.progressbar(length=VISITS, label="visits on paper", file=errors) as bar:
        sheet = prepare(checked, state, VISITS, bar.update)
    if json:
        import json as encoder

        found = to_object(checked.model, sheet, figures)
        typer.echo(encoder.dumps(found, ensure_ascii=False))
    else:
        typer.echo(to_text(checked.model, sheet, figures), nl=False)


def _events(model: Model, complaint: list[str], site: list[str], saw: list[str]) -> list[Event]:
    """What the customer has told so far."""
    from brinebayes.dialogue import words
    from brinebayes.visit.events import Saw
    from brinebayes.visit.state import site_fact

    return [
        *(site_fact(model, *pair("site", text, "KEY=VALUE")) for text in site),
        *(words.said(model, text) for text in complaint),
        *(Saw(*pair("saw", text, "OBSERVATION=OUTCOME")) for text in saw),
    ]
