"""`brinebayes next`: what is likely wrong and what to do next."""

# Annotations are not put off here: typer would evaluate each of them four times over.

from typing import TYPE_CHECKING, Annotated

import typer

from brinebayes.cli.order import InOrder, in_order, pair
from brinebayes.cli.shop import ShopFile, model_and_shop

if TYPE_CHECKING:
    from brinebayes.advice.advise import Advice
    from brinebayes.advice.effort import Effort
    from brinebayes.advice.sureness import Sureness
    from brinebayes.advice.weights import Evidence
    from brinebayes.knowledge.schema import CheckedModel, Model
    from brinebayes.visit.events import Event
    from brinebayes.visit.state import VisitState

commands = typer.Typer(rich_markup_mode=None)

Thorough = Annotated[bool, typer.Option("--thorough", help="Look further ahead.")]
Detail = Annotated[bool, typer.Option("--detail", help="The numbers behind the answer as well.")]


@commands.command("next", cls=InOrder)
def next_command(
    ctx: typer.Context,
    model: Annotated[
        str, typer.Option(help="Folder of a model; the shipped softener if not given.")
    ] = "softener",
    visit: Annotated[
        str, typer.Option(help="A visit file, or the name of a shipped one; it comes first.")
    ] = "",
    site: Annotated[
        list[str],
        typer.Option(
            metavar="KEY=VALUE", help='A site condition, or a measure: tank_diameter="10 in".'
        ),
    ] = [],  # noqa: B006
    complaint: Annotated[
        list[str],
        typer.Option(metavar="TEXT", help="What the customer says: an id, or words."),
    ] = [],  # noqa: B006
    saw: Annotated[
        list[str], typer.Option(metavar="OBSERVATION=OUTCOME", help="What was seen.")
    ] = [],  # noqa: B006
    reading: Annotated[
        list[str],
        typer.Option(metavar="OBSERVATION=NUMBER", help='A number with its unit: "0.6 gpm".'),
    ] = [],  # noqa: B006
    done: Annotated[list[str], typer.Option(metavar="REPAIR", help="A repair carried out.")] = [],  # noqa: B006
    setup: Annotated[
        list[str],
        typer.Option(
            metavar="PART=STATE", help="How the unit stands now; the worst is assumed otherwise."
        ),
    ] = [],  # noqa: B006
    shop: ShopFile = "",
    thorough: Thorough = False,
    detail: Detail = False,
    json: Annotated[bool, typer.Option("--json", help="One JSON object.")] = False,
) -> None:
    """Rank the faults and say what to do next. Give the options in the order of events."""
    from brinebayes.advice.advise import advise
    from brinebayes.advice.effort import THOROUGH, USUAL
    from brinebayes.visit.state import fold
    from brinebayes.wording.answer import to_object, to_text

    repeated = {"site": site, "complaint": complaint, "saw": saw, "reading": reading}
    given = in_order(ctx, {**repeated, "done": done, "setup": setup})
    checked, _ = model_and_shop(model, shop)
    events = _of_file(visit) if visit else []
    events += [_event(checked.model, option, text) for option, text in given]
    state = fold(checked.model, events)
    effort = THOROUGH if thorough else USUAL
    advice = advise(checked, state, effort)
    behind = _behind(checked, state, advice, effort) if detail else None
    if json:
        import json as encoder

        answer = to_object(checked.model, advice, behind)
        typer.echo(encoder.dumps(answer, ensure_ascii=False))
    else:
        typer.echo(to_text(checked.model, advice, behind), nl=False)


def _behind(
    checked: "CheckedModel", state: "VisitState", advice: "Advice", effort: "Effort"
) -> "tuple[Evidence, Sureness]":
    """The numbers behind an answer."""
    from brinebayes.advice.sureness import sureness
    from brinebayes.advice.weights import evidence

    return evidence(checked, state), sureness(checked, state, advice, effort)


def _event(model: "Model", option: str, text: str) -> "Event":
    """What one option says has happened."""
    from brinebayes.visit.events import Complained, Done, Read, Saw, SetupIs
    from brinebayes.visit.state import site_fact

    match option:
        case "site":
            return site_fact(model, *pair("site", text, "KEY=VALUE"))
        case "complaint":
            return Complained(text) if text in model.complaints else _in_words(model, text)
        case "saw":
            return Saw(*pair("saw", text, "OBSERVATION=OUTCOME"))
        case "reading":
            return Read(*pair("reading", text, '"OBSERVATION=0.6 gpm"'))
        case "done":
            return Done(text)
        case _:
            return SetupIs(*pair("setup", text, "PART=STATE"))


def _in_words(model: "Model", text: str) -> "Event":
    from brinebayes.dialogue.words import said

    return said(model, text)


def _of_file(visit: str) -> "list[Event]":
    """The events of a visit file; a last line that was cut off is left out, and said."""
    from pathlib import Path

    from brinebayes.knowledge.shipped import visit_file
    from brinebayes.visit.record import read_record

    record = read_record(Path(visit_file(visit)))
    if record.torn:
        typer.echo(f"brinebayes: {visit}: the last line is cut off and left out", err=True)
    return list(record.events)
