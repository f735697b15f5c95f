"""Reads the situations and asks the exact engine about them; shared by the tests of this folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from brinebayes.knowledge import yaml_strict
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.rules import Facts
from brinebayes.knowledge.schema import PROOF, Model
from brinebayes.network import graph
from brinebayes.network.belief import Belief, Question, Seen, believe
from brinebayes.visit import events
from brinebayes.visit.state import VisitState, fold

DATA = Path(__file__).parent / "data"
SHIPPED = Path(__file__).resolve().parents[2] / "models" / "softener"
DIRECTIONS = "directions.yaml"
RULES = "rules.yaml"
IN_TIME = "in_time.yaml"
#: Files of the folder that other tests than those of the situations read.
OTHERS = (DIRECTIONS, RULES, IN_TIME)
KEYS = {"name", "site", "complaint", "seen", "expect", "reason", "basis"}
#: Every situation says why it expects what it expects, and on what ground.
BASES = ("common practice, no source", "judgement", "published")
EXPECTATIONS = {
    "first",
    "among_first_three",
    "above",
    "at_least",
    "at_most",
    "group_at_least",
    "group_at_most",
    "groups_at_least",
    "works_at_least",
    "rules",
    "rules_not",
    "next",
}


@dataclass(frozen=True)
class Situation:
    """One situation: what is known, and what must come of it.

    `steps`: (observation, outcome) or (`did`, repair), in order.
    """

    file: str
    name: str
    expect: Mapping[str, Any]
    site: Mapping[str, str] = field(default_factory=dict)
    complaints: tuple[str, ...] = ()
    steps: tuple[tuple[str, str], ...] = ()

    @property
    def done(self) -> tuple[str, ...]:
        """The repairs, in order."""
        return tuple(value for key, value in self.steps if key == "did")

    def saw(self) -> dict[str, str]:
        """What was seen since the last repair."""
        seen: dict[str, str] = {}
        for key, value in self.steps:
            if key == "did":
                seen = {}
            else:
                seen[key] = value
        return seen

    def facts(self) -> Facts:
        """The situation as the rules see it."""
        ever = {key: value for key, value in self.steps if key != "did"}
        failed = self.steps.count((PROOF, "failed"))
        return Facts(self.site, self.complaints, self.saw(), ever, self.done, failed)


@cache
def shipped() -> Model:
    """The shipped model."""
    return read_model(SHIPPED)


def read(path: Path) -> Any:
    """A data file, read as strictly as a model file."""
    document = yaml_strict.load(path.name, path.read_text(encoding="utf-8"))
    assert not document.problems, "\n".join(map(str, document.problems))
    return document.data


def all_situations() -> list[Situation]:
    """Every situation of every file, refused where one is not complete."""
    found = []
    for path in sorted(DATA.glob("*.yaml")):
        if path.name in OTHERS:
            continue
        for item in read(path)["situations"]:
            where = f"{path.name}: {item.get('name')}"
            assert set(item) <= KEYS, f"{where}: unknown {set(item) - KEYS}"
            assert item["reason"], f"{where}: no reason"
            assert item["basis"].startswith(BASES), f"{where}: basis {item['basis']!r}"
            assert item["expect"], f"{where}: nothing expected"
            assert set(item["expect"]) <= EXPECTATIONS, f"{where}: unknown expectation"
            found.append(
                Situation(
                    file=path.stem,
                    name=item["name"],
                    expect=item["expect"],
                    site=item.get("site", {}),
                    complaints=tuple(item.get("complaint", ())),
                    steps=tuple(pair for step in item.get("seen", ()) for pair in step.items()),
                )
            )
    return found


def sighting(model: Model, epoch: int, observation: str, outcome: str) -> Seen:
    """A plain sighting; an outcome that does not exist fails the test that names it."""
    states = graph.states_of(model, observation)
    assert outcome in states, f"{observation} has no outcome {outcome}: {', '.join(states)}"
    return Seen(epoch, observation, tuple(float(state == outcome) for state in states))


def belief_after(model: Model, situation: Situation) -> Belief:
    """What the exact engine believes at the end of a situation."""
    seen = []
    epoch = 0
    for key, value in situation.steps:
        if key == "did":
            epoch += 1
        else:
            seen.append(sighting(model, epoch, key, value))
    return believe(
        model, Question(situation.site, situation.complaints, situation.done, tuple(seen))
    )


def visit_state(model: Model, situation: Situation) -> VisitState:
    """The situation as a visit, folded from its events."""
    happened: list[events.Event] = [
        *(events.SiteKnown(condition, value) for condition, value in situation.site.items()),
        *(events.Complained(complaint) for complaint in situation.complaints),
    ]
    for key, value in situation.steps:
        happened.append(events.Done(value) if key == "did" else events.Saw(key, value))
    return fold(model, happened)


def ranked(belief: Belief) -> list[str]:
    """Faults, the likeliest first."""
    return sorted(belief.faults, key=lambda fault: -belief.faults[fault])


def in_groups(model: Model, belief: Belief, groups: tuple[str, ...]) -> float:
    """Expected number of faults present out of these groups; near the probability of any."""
    known = {fault.group for fault in model.faults.values()}
    assert set(groups) <= known, f"no group {set(groups) - known}"
    return sum(p for fault, p in belief.faults.items() if model.faults[fault].group in groups)
