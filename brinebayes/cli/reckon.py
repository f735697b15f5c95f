"""`brinebayes reckon`: the trade's sums on their own."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from brinebayes.physics.units import Dimension
    from brinebayes.physics.workbench import Worked

commands = typer.Typer(
    name="reckon",
    help="The trade's sums, with formula, assumptions and sources. Numbers carry their unit.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Json = Annotated[bool, typer.Option("--json", help="JSON instead of text.")]
Water = Annotated[str, typer.Option(help="Temperature of the water.")]
Tank = Annotated[str, typer.Option(help="Diameter of the resin tank.")]
Resin = Annotated[str, typer.Option(help="Volume of resin.")]


class Zone(StrEnum):
    """What the brine level moves in."""

    SALT = "salt"
    CLEAR = "clear"


@commands.command("drain-line")
def drain_line(
    flow: Annotated[str, typer.Option(help="Flow to the drain, such as 2.7 gpm.")],
    length: Annotated[str, typer.Option(help="Length of the tubing.")],
    bore: Annotated[str, typer.Option(help="Its inner diameter.")],
    pressure: Annotated[str, typer.Option(help="Pressure at its start.")],
    rise: Annotated[
        str, typer.Option(help="How much higher its end is; may be negative.")
    ] = "0 ft",
    water: Water = "60 F",
    json: Json = False,
) -> None:
    """What a drain line takes, and whether it carries the flow."""
    from brinebayes.physics.hydraulics import Tube
    from brinebayes.physics.workbench import drain_tubing

    line = Tube(
        _si("length", length, "length"),
        _si("bore", bore, "length"),
        rise_m=_si("rise", rise, "length", signed=True),
    )
    kelvin = _si("water", water, "temperature")
    inlet = _si("pressure", pressure, "pressure")
    _print(drain_tubing(_si("flow", flow, "flow"), line, inlet, kelvin), json)


@commands.command("flows")
def flows(tank: Tank, resin: Resin = "", water: Water = "60 F", json: Json = False) -> None:
    """What a bucket at the drain should show on a tank of this size."""
    from brinebayes.physics.workbench import expected_flows

    diameter = _si("tank", tank, "length")
    volume = _si("resin", resin, "volume") if resin else None
    _print(expected_flows(diameter, volume, _si("water", water, "temperature")), json)


@commands.command("draw")
def draw(
    fall: Annotated[str, typer.Option(help="Fall of the brine level; a rise is negative.")],
    time: Annotated[str, typer.Option(help="Time it took.")],
    tank: Annotated[str, typer.Option(help="Inner diameter of the brine tank.")],
    level_in: Annotated[
        Zone, typer.Option("--in", help="What the level moves in; in salt it falls faster.")
    ],
    json: Json = False,
) -> None:
    """How much brine is drawn, from the fall of its level."""
    from brinebayes.physics.workbench import draw_by_tape

    worked = draw_by_tape(
        _si("fall", fall, "length", signed=True),
        _si("time", time, "time"),
        _si("tank", tank, "length"),
        level_in is Zone.SALT,
    )
    _print(worked, json)


@commands.command("salt")
def salt(
    resin: Resin,
    dose: Annotated[str, typer.Option(help="Salt per volume of resin, such as 6 lb/ft3.")],
    refill: Annotated[str, typer.Option(help="Flow of the refill.")],
    draw: Annotated[str, typer.Option(help="Brine drawn, without the motive water.")],
    brine: Annotated[str, typer.Option(help="Temperature of the brine.")] = "60 F",
    json: Json = False,
) -> None:
    """Salt, refill and brine of one regeneration, with their times."""
    from brinebayes.physics.workbench import salt_dose

    worked = salt_dose(
        _si("resin", resin, "volume"),
        _si("dose", dose, "concentration"),
        _si("refill", refill, "flow"),
        _si("draw", draw, "flow"),
        _si("brine", brine, "temperature"),
    )
    _print(worked, json)


@commands.command("days")
def days(
    capacity: Annotated[str, typer.Option(help="Capacity of the unit, such as 30000 gr.")],
    hardness: Annotated[str, typer.Option(help="Hardness of the raw water.")],
    use: Annotated[str, typer.Option(help="Water used a day, such as 300 gal/day.")],
    reserve: Annotated[str, typer.Option(help="Held back for the day it is due.")] = "1 d",
    json: Json = False,
) -> None:
    """Days from one regeneration to the next."""
    from brinebayes.physics.units import DAY
    from brinebayes.physics.workbench import days_between_regenerations

    worked = days_between_regenerations(
        _si("capacity", capacity, "mass"),
        _si("hardness", hardness, "concentration"),
        DAY.to_si(_si("use", use, "flow")),
        DAY.from_si(_si("reserve", reserve, "time")),
    )
    _print(worked, json)


# A minus in front of the number is refused in words, not taken for an option.
@commands.command("hardness", context_settings={"ignore_unknown_options": True})
def hardness(
    value: Annotated[str, typer.Argument(metavar="NUMBER", help="Such as 20 gpg or 350 mg/L.")],
    json: Json = False,
) -> None:
    """A hardness in every unit, and the sodium that softening adds."""
    from brinebayes.physics.workbench import hardness_units

    _print(hardness_units(_si("hardness", value, "concentration")), json)


def _si(name: str, text: str, dimension: Dimension, *, signed: bool = False) -> float:
    """The SI value of an option. Raises UsageError that names it."""
    from brinebayes.errors import UsageError
    from brinebayes.physics.units import parse

    try:
        return parse(text, dimension, signed).value_si
    except UsageError as error:
        raise UsageError(f"{name}: {error}") from None


def _print(worked: Worked, json: bool) -> None:
    from brinebayes.wording.sums import sum_object, sum_text

    if json:
        import json as encoder

        typer.echo(encoder.dumps(sum_object(worked), ensure_ascii=False, indent=2))
    else:
        typer.echo(sum_text(worked), nl=False)
