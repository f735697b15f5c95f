"""`brinebayes simulate`: ways of choosing the next act, on the same visits that never happened."""

from typing import Annotated

import typer

from brinebayes.cli.model import Folder, Json

commands = typer.Typer(rich_markup_mode=None)


@commands.command("simulate")
def simulate(
    units: Annotated[
        str,
        typer.Option(
            help="A or B: softeners with physical faults, of one family of houses or the other;"
            " model: units drawn from the model, which only shows whether it agrees with itself."
        ),
    ] = "A",
    visits: Annotated[int, typer.Option(min=1, help="How many.")] = 100,
    policy: Annotated[
        list[str], typer.Option(help="A way of choosing, by its name; every one if not given.")
    ] = [],  # noqa: B006
    first: Annotated[int, typer.Option(min=0, help="The number of the first visit.")] = 0,
    seed: Annotated[int, typer.Option(min=0, help="Other visits for each seed.")] = 1,
    model: Folder = "softener",
    file: Annotated[str, typer.Option(help="Keep visits there, and go on where they stop.")] = "",
    cases: Annotated[
        str,
        typer.Option(
            metavar="FILE", help="Write the visits of the first policy there as invented cases."
        ),
    ] = "",
    json: Json = False,
) -> None:
    """Serve invented visits and compare cost, minutes and outcomes, with intervals."""
    from pathlib import Path

    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.simulation import trials
    from brinebayes.wording import trials as say

    checked = ready(model_folder(model))
    trial = trials.trial(units, visits, first, seed)
    compared = trials.chosen(policy)
    errors = typer.get_text_stream("stderr")
    with typer.progressbar(length=visits, label="visits", file=errors) as bar:
        path = Path(file) if file else None
        served = trials.run(checked, compared, trial, path, lambda done, all: bar.update(1))
    if cases:
        from brinebayes.cases.lines import to_line
        from brinebayes.simulation.records import case

        with Path(cases).open("w", encoding="utf-8") as out:
            for one in served:
                if one.policy == compared[0].name:
                    out.write(to_line(case(checked, trial, one)))
    found = trials.comparison(trial, served)
    if json:
        import json as encoder

        typer.echo(encoder.dumps(say.to_object(checked.model, found), ensure_ascii=False))
    else:
        typer.echo(say.to_text(checked.model, found), nl=False)
