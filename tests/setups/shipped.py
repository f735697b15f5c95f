"""The setups of the shipped model, read alone, and what its acts ask of them in a trade's words."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

from brinebayes.knowledge import shape, yaml_strict
from brinebayes.knowledge.frozen import freeze
from brinebayes.knowledge.schema import Condition, Money, Number, Setups
from brinebayes.setups.routes import Routes, goal_of, table_of

FILE = Path(__file__).resolve().parents[2] / "models" / "softener" / "setups.yaml"


def number(value: float) -> Number:
    return Number(value, "judgement", 1.0, "a number of the tests")


MONEY = Money(
    attention_per_minute=number(1.5),
    waiting_per_minute=number(0.9),
    second_visit=number(200.0),
    escalation=number(80.0),
    fetch_part=number(40.0),
)

#: What the checks of TRADE section 2 ask of the setup, by their letter or kind.
ASKED: dict[str, Condition] = {
    "nothing": {},
    "power for the display": {"power": "plugged"},
    "D hardness in service": {"water": "service", "position": "service", "inside": "rinsed"},
    "F bucket in backwash": {
        "water": ("service", "feeding"),
        "position": "backwash",
        "drain": "fitted",
        "valve": "closed",
    },
    "G bucket in the brine step": {
        "water": ("service", "feeding"),
        "position": "brine",
        "drain": "fitted",
        "brine": "fitted",
        "valve": "closed",
    },
    "I suction at the valve": {
        "water": ("service", "feeding"),
        "position": "brine",
        "drain": "fitted",
        "brine": "off",
        "valve": "closed",
    },
    "J backwash into a pail": {
        "water": "feeding",
        "position": "backwash",
        "drain": "pail",
        "valve": "closed",
    },
    "J brine step into a pail": {
        "water": "feeding",
        "position": "brine",
        "drain": "pail",
        "valve": "closed",
    },
    "K, L, T, U body open": {"valve": "open"},
    "drive repairs": {"valve": "drive"},
    "drain line off": {"drain": "off"},
    "brine line off": {"brine": "off"},
    "M air check out": {"position": "service", "brine": "fitted"},
    "W rinse water": {
        "water": ("service", "feeding"),
        "position": "rinse",
        "drain": "fitted",
        "valve": "closed",
    },
    "S catch the refill": {
        "water": ("service", "feeding"),
        "position": "refill",
        "drain": "fitted",
        "brine": "fitted",
        "valve": "closed",
    },
}


@cache
def shipped_setups() -> Setups:
    document = yaml_strict.load(FILE.name, FILE.read_text(encoding="utf-8"))
    values, findings = shape.fits(FILE.name, document.data)
    assert not document.problems
    assert not findings
    setups: Setups = freeze(values["setups"])
    return setups


def goals_of(setups: Setups) -> dict[str, Condition]:
    """Everything asked, the handing back and the waiting included."""
    service = {name: variable.service for name, variable in setups.variables.items()}
    return {**ASKED, "service": service, "parked": setups.parked}


def routes_of(setups: Setups, goals: Iterable[Condition], money: Money = MONEY) -> Routes:
    """Routes without a model around them."""
    spelled = tuple(goal_of(goal) for goal in goals)
    return Routes(setups, money, tuple, table_of(setups, money, (), spelled))


@cache
def shipped_routes() -> Routes:
    setups = shipped_setups()
    return routes_of(setups, goals_of(setups).values())
