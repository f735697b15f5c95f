"""Both engines asked the same: `python -m tests.page.agreement 500` asks of 500 visits."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from random import Random
from typing import Any

import numpy as np

from brinebayes.checking.ready import ready
from brinebayes.errors import EvidenceConflict
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network import graph
from brinebayes.network.belief import Belief, believe
from brinebayes.network.contradiction import look
from brinebayes.network.evidence import Question, ground
from brinebayes.network.tables import TooLargeError
from brinebayes.page.slim import slim
from tests.page import advising
from tests.page.node import question, run
from tests.page.visits import visits
from tests.page.walks import walks

CLOSE = {"rtol": 0.0, "atol": 1e-12}
#: Logarithms of probabilities down to 1e-30 carry so much more rounding.
CLOSE_LOG = {"rtol": 0.0, "atol": 1e-10}


def check(model: Model, asked: Sequence[Question], conflict: bool) -> list[dict[str, Any]]:
    """Ask both engines the same questions, of each three observations in full; what the page said.

    Raises AssertionError where they differ.
    """
    chance = Random(17)
    known = [*graph.observations(model), graph.PROOF]
    names = [chance.sample(known, min(3, len(known))) for _ in asked]
    questions = [
        {**question(one), "observations": some, "conflict": conflict}
        for one, some in zip(asked, names, strict=True)
    ]
    [answers] = run([{"task": "visits", "model": slim(model), "questions": questions}])
    for one, some, said in zip(asked, names, answers, strict=True):
        compare(said, python_says(model, one, some, conflict))
    found: list[dict[str, Any]] = answers
    return found


def python_says(
    model: Model, asked: Question, names: Sequence[str], conflict: bool
) -> dict[str, Any]:
    """What the driver says, from Python's engine."""
    try:
        ground(model, asked)
        belief = believe(model, asked)
    except EvidenceConflict:
        return {"impossible": True}
    except TooLargeError:
        return {"tooLarge": True}
    assert isinstance(belief, Belief)
    return {
        "faults": list(belief.faults.values()),
        "works": belief.works,
        "noFault": belief.no_fault,
        "logEvidence": belief.log_evidence,
        "outcomes": [belief.outcomes[name].tolist() for name in names],
        "joint": [belief.joint[name].tolist() for name in names],
        "contradiction": look(belief) if conflict else None,
    }


def compare(said: dict[str, Any], expected: dict[str, Any]) -> None:
    """Probabilities equal to 1e-12, what was found out the same."""
    assert said.keys() == expected.keys()
    for key, wanted in expected.items():
        if key in ("outcomes", "joint"):
            for mine, theirs in zip(said[key], wanted, strict=True):
                np.testing.assert_allclose(mine, theirs, **CLOSE)
        elif key == "contradiction":
            assert (said[key] is None) == (wanted is None)
            if wanted is not None:
                np.testing.assert_allclose(said[key]["bits"], wanted.bits, **CLOSE_LOG)
                mine = [name for name, _ in said[key]["suspects"]]
                assert mine == [name for name, _ in wanted.suspects]
                assert said[key]["rareFault"] == wanted.rare_fault
        else:
            close = CLOSE_LOG if key == "logEvidence" else CLOSE
            np.testing.assert_allclose(said[key], wanted, **close)


def main(count: int) -> None:
    """Many visits to the shipped model; prints how they fell out."""
    model = read_model(model_folder("softener"))
    asked = list(visits(model, count, seed=3, sequences=9))
    answers = check(model, asked, conflict=False)
    kinds = Counter(
        (len(one.done), "exact" if "faults" in said else next(iter(said)))
        for one, said in zip(asked, answers, strict=True)
    )
    for (done, kind), number in sorted(kinds.items()):
        print(f"{number} visits with {done} repairs: {kind}, the same in both")
    checked = ready(model_folder("softener"))
    told = list(walks(checked.model, count, 5, advising.REPAIRS))
    apart = 0
    for mine, events in zip(advising.said(checked, told), told, strict=True):
        try:
            advising.compare(mine, advising.advised(checked, events))
        except AssertionError as error:
            apart += 1
            print(f"apart: {events}\n{error}")
    print(f"{len(told)} visits with all that may be told: advice the same in all but {apart}")


if __name__ == "__main__":
    main(int(sys.argv[1]))
