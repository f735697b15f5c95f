"""`brinebayes next`: what is likely wrong and what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from brinebayes.cli.order import in_order, pair
from brinebayes.cli.shop import ShopFile, model_and_shop

if TYPE_CHECKING:
    from brinebayes.visit.events import Event


def next_command(
    ctx: typer.Context,
    model: Annotated[
        str, typer.Option(help="Folder of a model; the shipped softener if not given.")
    ] = "softener",
    visit: Annotated[
        str, typer.Option(help="A visit file, or the name of a shipped one; it comes first.")
    ] = "",
    site: Annotated[list[str], typer.Option(metavar="KEY=VALUE", help="A site condition.")] = [],  # noqa: B006
    complaint: Annotated[
        list[str], typer.Option(metavar="ID", help="What the customer says.")
    ] = [],  # noqa: B006
    saw: Annotated[
        list[str], typer.Option(metavar="OBSERVATION=OUTCOME", help="What was seen or measured.")
    ] = [],  # noqa: B006
    done: Annotated[list[str], typer.Option(metavar="REPAIR", help="A repair carried out.")] = [],  # noqa: B006
    setup: Annotated[
        list[str],
        typer.Option(
            metavar="PART=STATE", help="How the unit stands now; the worst is assumed otherwise."
        ),
    ] = [],  # noqa: B006
    shop: ShopFile = "",
    json: Annotated[bool, typer.Option("--json", help="One JSON object.")] = False,
) -> None:
    """Rank the faults and say what to do next. Give the options in the order of events."""
    from brinebayes.advice.advise import advise
    from brinebayes.visit.events import Complained, Done, Saw, SetupIs, SiteKnown
    from brinebayes.visit.state import fold
    from brinebayes.wording.answer import to_object, to_text

    given = in_order(
        ctx, {"site": site, "complaint": complaint, "saw": saw, "done": done, "setup": setup}
    )
    events = _of_file(visit) if visit else []
    for option, text in given:
        match option:
            case "site":
                events.append(SiteKnown(*pair("site", text, "CONDITION=VALUE")))
            case "complaint":
                events.append(Complained(text))
            case "saw":
                events.append(Saw(*pair("saw", text, "OBSERVATION=OUTCOME")))
            case "done":
                events.append(Done(text))
            case _:
                events.append(SetupIs(*pair("setup", text, "PART=STATE")))
    checked, _ = model_and_shop(model, shop)
    advice = advise(checked, fold(checked.model, events))
    if json:
        import json as encoder

        typer.echo(encoder.dumps(to_object(checked.model, advice), ensure_ascii=False))
    else:
        typer.echo(to_text(checked.model, advice), nl=False)


def _of_file(visit: str) -> list[Event]:
    """The events of a visit file; a last line that was cut off is left out, and said."""
    from pathlib import Path

    from brinebayes.knowledge.shipped import visit_file
    from brinebayes.visit.record import read_record

    record = read_record(Path(visit_file(visit)))
    if record.torn:
        typer.echo(f"brinebayes: {visit}: the last line is cut off and left out", err=True)
    return list(record.events)
