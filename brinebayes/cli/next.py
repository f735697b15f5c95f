"""`brinebayes next`: what is likely wrong and what to do next."""

from __future__ import annotations

from typing import Annotated

import typer

from brinebayes.cli.order import in_order, pair


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
    json: Annotated[bool, typer.Option("--json", help="One JSON object.")] = False,
) -> None:
    """Rank the faults and say what to do next. Give the options in the order of events."""
    from pathlib import Path

    from brinebayes.advice.advise import advise
    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder, visit_file
    from brinebayes.visit.events import Complained, Done, Event, Saw, SetupIs, SiteKnown
    from brinebayes.visit.record import read_events
    from brinebayes.visit.state import fold
    from brinebayes.wording.answer import to_object, to_text

    given = in_order(
        ctx, {"site": site, "complaint": complaint, "saw": saw, "done": done, "setup": setup}
    )
    events: list[Event] = list(read_events(Path(visit_file(visit)))) if visit else []
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
    checked = ready(model_folder(model))
    advice = advise(checked, fold(checked.model, events))
    if json:
        import json as encoder

        typer.echo(encoder.dumps(to_object(checked.model, advice), ensure_ascii=False))
    else:
        typer.echo(to_text(checked.model, advice), nl=False)
