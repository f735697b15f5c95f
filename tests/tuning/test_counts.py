"""Expected counts against counting every world."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.evidence import Question, Seen
from brinebayes.network.local import holds
from brinebayes.network.worlds import evaluate
from brinebayes.tuning.chunk import chunk
from brinebayes.tuning.counts import expect
from brinebayes.tuning.engine import engine, plan
from brinebayes.tuning.numbers import entries
from brinebayes.tuning.told import Found, Told, told
from tests.network.enumeration import Enumerated, count_worlds, enumerate_worlds
from tests.strategies import SLOW_LAW, small_models, visits
from tests.tuning.made import has_odds, number, observation, row
from tests.tuning.made import model as made_model

MOST_WORLDS = 40_000


def drawn_visit(data: st.DataObject) -> tuple[Model, Question, Enumerated, np.ndarray]:
    """A model, a question before any repair, all worlds and what each of them weighs given it."""
    model = data.draw(small_models())
    assume(has_odds(model))
    assume(count_worlds(model) <= MOST_WORLDS)
    asked = data.draw(visits(model, most_repairs=0))
    case = told(model, asked)
    asked = Question(asked.site, seen=tuple(Seen(0, *finding) for finding in case.findings))
    worlds = enumerate_worlds(model, asked.site)
    weights = worlds.given(asked)
    assume(weights.sum() > 1e-9)
    return model, asked, worlds, weights / weights.sum()


class TestExpect:
    """What one case leads to expect."""

    @SLOW_LAW
    @given(data=st.data())
    def test_probability_and_faults(self, data: st.DataObject) -> None:
        model, asked, worlds, weights = drawn_visit(data)
        told_ = told(model, asked)
        now = engine(model, plan(model, [n for n, _ in told_.findings], ()))
        found = expect(now, chunk(model, [(told_, 1.0)]))
        total = worlds.weights.sum()
        assert found.log_p[0] == pytest.approx(np.log(worlds.given(asked).sum() / total), abs=1e-9)
        assert found.faults[:, 0] == pytest.approx(weights @ worlds.faults[0], abs=1e-9)
        none = weights @ ~worlds.faults[0].any(axis=1)
        assert found.none[0] == pytest.approx(none, abs=1e-9)
        assert found.called[0] == pytest.approx(total, abs=1e-9)

    @SLOW_LAW
    @given(data=st.data())
    def test_links(self, data: st.DataObject) -> None:
        """A link counts in the worlds in which its condition holds."""
        model, asked, worlds, weights = drawn_visit(data)
        told_ = told(model, asked)
        names = {*graph.observations(model), *model.complaints, *(n for n, _ in told_.findings)}
        now = engine(model, plan(model, names, entries(model, ("links",))))
        found = expect(now, chunk(model, [(told_, 1.0)])).counts
        states = evaluate(model, worlds.site, worlds.faults[0], worlds.noise)
        for entry in entries(model, ("links",)):
            if entry.key not in found:
                continue  # nothing that is seen hangs on it
            mechanism = model.mechanisms[str(entry.path[1])]
            leak = entry.path[2] == "leak"
            source = "leak" if leak else f"n{entry.path[3]}"
            noise = worlds.noise[f"{entry.path[1]}__{source}"]
            acts = np.ones(len(weights))
            if not leak:
                when = mechanism.causes[int(entry.path[3])].when
                acts = _where(model, worlds, states, when)
            wanted = [
                weights @ (acts * (noise == mechanism.states.index(state)))
                for state in entry.states
            ]
            assert found[entry.key][:, 0] == pytest.approx(wanted, abs=1e-9)

    def test_a_misreading_is_told_from_the_row(self) -> None:
        """By hand: misread one time in five, two outcomes, a sure row: P(x) = .9, and of the .1 of
        y all, of the .9 of x one ninth is misread."""
        seen = observation(("x", "y"), [row({}, {"x": 1.0})], number(0.2))
        model = made_model({"a": number(0.5), "b": number(0.2)}, number(0.4), {"o": seen})
        cases = [
            (told(model, Question(seen=(Seen(0, "o", (1.0, 0.0)),))), 1.0),
            (told(model, Question(seen=(Seen(0, "o", (0.0, 1.0)),))), 1.0),
        ]
        now = engine(model, plan(model, ["o"], entries(model, ("misreadings",))))
        found = expect(now, chunk(model, cases)).counts
        counts = found["checks", "look", "observations", "o", "misreading"]
        assert counts == pytest.approx(np.array([[1 / 9, 1.0], [8 / 9, 0.0]]))

    def test_impossible_evidence_counts_nothing(self) -> None:
        seen = observation(("x", "y"), [row({}, {"x": 1.0})])
        model = made_model({"a": number(0.5), "b": number(0.2)}, number(0.4), {"o": seen})
        case = told(model, Question(seen=(Seen(0, "o", (0.0, 1.0)),)))
        found = expect(engine(model, plan(model, ["o"], ())), chunk(model, [(case, 1.0)]))
        assert found.log_p[0] == -np.inf
        assert not found.faults.any()


class TestProofs:
    """What a proof tells of the faults that are left."""

    def test_close_to_the_exact_engine(self) -> None:
        """The exact engine copies the unit for every repair; here faults that are left have their
        luck anew. On the small model the two differ by a few points at most."""
        from pathlib import Path

        from brinebayes.knowledge.reading import read_model
        from brinebayes.network.belief import believe

        model = read_model(Path(__file__).resolve().parents[1] / "models" / "small")
        for outcome in ((1.0, 0.0), (0.0, 1.0)):
            for repair in model.repairs:
                asked = Question(
                    {"valve": "piston", "supply": "town"},
                    ("hard_water",),
                    (repair,),
                    (Seen(0, "outlet_hardness", (0.0, 1.0)), Seen(1, "proof", outcome)),
                )
                case = told(model, asked)
                bare = Told(case.site, case.findings, case.done, case.proofs)
                names = [name for name, _ in case.findings]
                found = expect(
                    engine(model, plan(model, names, ())), chunk(model, [(bare, 1.0)])
                ).log_p[0]
                assert found == pytest.approx(believe(model, asked).log_evidence, abs=0.05)


class TestEyes:
    """Faults that were seen at their repair, or were not."""

    def test_not_seen_speaks_against_and_seen_for(self) -> None:
        from pathlib import Path

        from brinebayes.knowledge.reading import read_model

        model = read_model(Path(__file__).resolve().parents[1] / "models" / "small")
        asked = Question(done=("clean_injector",))
        cases = [
            told(model, Question()),
            told(model, asked),
            told(model, asked, [Found("injector_clogged", 0.97, True)]),
        ]
        now = engine(model, plan(model, ["injector_clogged"], ()))
        faults = expect(now, chunk(model, [(case, 1.0) for case in cases])).faults[0]
        assert faults[1] < faults[0] < faults[2]
        assert faults[2] > 0.95


def _where(
    model: Model, worlds: Enumerated, states: dict[str, np.ndarray], when: object
) -> np.ndarray:
    """(worlds,): 1 where a condition holds."""
    names = list(when)  # type: ignore[call-overload]
    count = len(worlds.weights)
    columns = {}
    for name in names:
        known = graph.states_of(model, name)
        if name in model.faults:
            at = worlds.faults[0][:, list(model.faults).index(name)].astype(int)
        elif name in model.mechanisms:
            at = np.broadcast_to(states[name], (count,))
        else:
            at = worlds.site[name]
        columns[name] = [known[int(k)] for k in at]
    return np.array(
        [float(holds(when, {n: columns[n][i] for n in names})) for i in range(count)]  # type: ignore[arg-type]
    )
