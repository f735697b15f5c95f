"""Where the model and the physical unit disagree: `python -m tests.bench.units`.

For each fault alone, how often the unit gives each outcome against what the model expects. The
largest differences come first, by the fault's share of calls times the part of the answers that
differ. It says where to look, not who is right: that is for the trade to say. Family A only.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from brinebayes.knowledge import shipped
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import Question, believe
from brinebayes.network.worlds import Worlds
from brinebayes.simulation.unit import drawing, houses
from brinebayes.simulation.unit.chance import Chance
from brinebayes.simulation.unit.unit import Unit

ROWS = 60_000

Shares = Mapping[str, float]


class Difference(NamedTuple):
    """One question on one fault; `apart`: half the sum of the differences, 0 to 1."""

    fault: str
    share: float
    question: str
    apart: float
    unit: Shares
    model: Shares


def units(model: Model, fault: str, number: int) -> Iterator[Unit]:
    """Units of family A with this fault alone, on sites on which it can be, as they occur."""
    found = 0
    for draw in range(10_000):
        chance = Chance(f"compare {fault} {draw}")
        conditions = drawing.draw_conditions(model, chance.part("site"))
        factor = drawing.site_factor(model, conditions, fault)
        # A site is taken as often as the fault is found on it; no factor is above 60.
        if chance.uniform("taken") * 60 < factor:
            yield drawing.with_faults(model, houses.A, f"compare {draw}", conditions, (fault,))
            found += 1
            if found == number:
                return


def expected(worlds: Worlds, rows: NDArray[np.intp], question: str) -> NDArray[np.float64]:
    """What the model expects where only this fault is present."""
    weights = worlds.weights[rows] / worlds.weights[rows].sum()
    if question == "works":
        works = float(weights @ worlds.works[rows])
        return np.array([works, 1 - works])
    return np.asarray(weights @ worlds.observation_likelihoods(question)[rows])


def differences(model: Model, faults: list[str], number: int) -> Iterator[Difference]:
    """Every question on every fault."""
    worlds = believe(model, Question()).worlds(ROWS, 1)
    alone = worlds.faults.sum(axis=1) == 1
    questions: dict[str, tuple[str, ...]] = {"works": ("yes", "no"), "proof": ("passed", "failed")}
    questions |= dict.fromkeys(model.complaints, ("said", "not_said"))
    for check in model.checks.values():
        questions |= {name: tuple(item.outcomes) for name, item in check.observations.items()}
    for fault in faults:
        rows = np.flatnonzero(alone & worlds.has(fault))
        drawn = list(units(model, fault, number))
        for question, outcomes in questions.items():
            got = Counter(_answer(one, question, outcomes) for one in drawn)
            unit = np.array([got[outcome] / len(drawn) for outcome in outcomes])
            theirs = expected(worlds, rows, question)
            apart = float(np.abs(unit - theirs).sum() / 2)
            yield Difference(
                fault,
                model.faults[fault].share.value,
                question,
                apart,
                dict(zip(outcomes, unit.round(2).tolist(), strict=True)),
                dict(zip(outcomes, theirs.round(2).tolist(), strict=True)),
            )


def _answer(unit: Unit, question: str, outcomes: tuple[str, ...]) -> str:
    if question == "works":
        return outcomes[0] if unit.works else outcomes[1]
    if question == "proof":
        return unit.copy().prove()
    if outcomes == ("said", "not_said"):
        return outcomes[0] if question in unit.complaints else outcomes[1]
    return unit.answer(question).outcome


def shown(shares: Shares) -> str:
    """The outcomes that matter, the commonest first."""
    order = sorted(shares.items(), key=lambda item: -item[1])
    return ", ".join(f"{name} {share:.2f}" for name, share in order if share >= 0.05)


def main() -> None:
    """Compare what was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.units", description=__doc__)
    parser.add_argument("--units", type=int, default=60, help="units for each fault")
    parser.add_argument("--faults", nargs="*", default=[], help="these faults only")
    parser.add_argument("--lines", type=int, default=60, help="differences to show")
    parser.add_argument("--json", type=Path, help="file for all of them")
    chosen = parser.parse_args()
    model = read_model(shipped.model_folder("softener"))
    found = list(differences(model, chosen.faults or list(model.faults), chosen.units))
    weigh = sorted(found, key=lambda each: -each.share * each.apart)
    print("| fault | question | apart | unit | model |\n|---|---|---|---|---|")
    for each in weigh[: chosen.lines]:
        print(
            f"| {each.fault} | {each.question} | {each.apart:.2f} |"
            f" {shown(each.unit)} | {shown(each.model)} |"
        )
    total = sum(each.share for each in found if each.question == "works")
    for question, outcome in (("works", "yes"), ("proof", "passed")):
        of = [each for each in found if each.question == question]
        unit = sum(each.share * each.unit[outcome] for each in of) / total
        theirs = sum(each.share * each.model[outcome] for each in of) / total
        print(f"\n{question}, all faults by their shares: unit {unit:.2f}, model {theirs:.2f}")
    if chosen.json:
        chosen.json.write_text(json.dumps([each._asdict() for each in found]), encoding="utf-8")


if __name__ == "__main__":
    main()
