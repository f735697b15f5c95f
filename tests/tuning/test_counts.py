"""Expected counts against counting every world."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.cases.record import Case
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph
from brinebayes.network.belief import believe
from brinebayes.network.evidence import Question, Seen
from brinebayes.network.local import holds
from brinebayes.network.worlds import evaluate
from brinebayes.tuning import counts as counts_module
from brinebayes.tuning import smaller
from brinebayes.tuning.chunk import chunk, merged
from brinebayes.tuning.counts import Expected, expect
from brinebayes.tuning.engine import engine, plan
from brinebayes.tuning.gather import told_by
from brinebayes.tuning.numbers import SAFE, entries
from brinebayes.tuning.told import Found, told
from tests.network.enumeration import Enumerated, count_worlds, enumerate_worlds
from tests.strategies import SLOW_LAW, small_models, visits
from tests.tuning.made import has_odds, number, observation, row
from tests.tuning.made import model as made_model

MOST_WORLDS = 40_000

Pair = tuple[float, float]


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

    @pytest.mark.parametrize("outcome", [(1.0, 0.0), (0.0, 1.0)])
    @pytest.mark.parametrize(
        ("seen", "apart"),
        [
            ({"outlet_hardness": (0.0, 1.0)}, 0.02),
            ({"injector_seen": (0.0, 1.0), "level": (0.0, 1.0)}, 0.02),
            ({"outlet_hardness": (1.0, 0.0), "injector_seen": (1.0, 0.0)}, 0.1),
        ],
    )
    def test_close_to_the_exact_engine(
        self,
        small: Model,
        seen: dict[str, tuple[float, float]],
        apart: float,
        outcome: Pair,
    ) -> None:
        """The exact engine copies the unit for every repair."""
        for repair in small.repairs:
            asked = Question(
                {"valve": "piston", "supply": "town"},
                (),
                (repair,),
                (*(Seen(0, *finding) for finding in seen.items()), Seen(1, "proof", outcome)),
            )
            found, exact = counted(small, asked), believe(small, asked)
            assert found.log_p[0] == pytest.approx(exact.log_evidence, abs=apart)
            assert found.none[0] == pytest.approx(exact.no_fault, abs=0.02)

    def test_a_unit_that_seemed_sound_and_works_had_perhaps_no_fault(self, small: Model) -> None:
        """What shows a fault itself must also speak of a fault that does no harm."""
        sound = (Seen(0, "injector_seen", (1.0, 0.0)), Seen(0, "level", (1.0, 0.0)))
        asked = Question(
            {"valve": "disc"}, (), ("clear_brine_line",), (*sound, Seen(1, "proof", (1.0, 0.0)))
        )
        exact = believe(small, asked).no_fault
        assert exact > 0.2
        assert counted(small, asked).none[0] == pytest.approx(exact, abs=0.01)


def counted(model: Model, asked: Question) -> Expected:
    """What one question leads to expect, with proofs and nothing said of what was found."""
    case = replace(told(model, asked), looked=())
    names = [name for name, _ in case.findings]
    return expect(engine(model, plan(model, names, ())), chunk(model, [(case, 1.0)]))


class TestSmallerNetworks:
    """Where most faults can have no effect, a smaller network is asked."""

    def test_the_same_as_in_the_whole(
        self, small: Model, visits: tuple[Case, ...], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        cases = chunk(small, merged((told_by(small, case), 1.0) for case in visits[:80]))
        now = engine(small, plan(small, cases.found, entries(small, SAFE)))
        fewer = expect(now, cases)
        assert {case.working for case in now.smaller} == {True, False}
        monkeypatch.setattr(counts_module, "settled", lambda *_: smaller.Case())
        whole = expect(now, cases)
        assert fewer.log_p == pytest.approx(whole.log_p, abs=1e-9)
        assert fewer.faults == pytest.approx(whole.faults, abs=1e-9)
        assert fewer.counts.keys() == whole.counts.keys()
        for key, values in whole.counts.items():
            assert fewer.counts[key] == pytest.approx(values, abs=1e-9)


class TestTries:
    """A repair is a try on a fault that is there still."""

    def test_the_second_repair_is_no_try_where_the_first_cleared(self, small: Model) -> None:
        """By hand, the fault seen for sure and both repairs for it, .92 and .3: with a unit that
        then works, the first cleared in .92 / (.92 + .08 x .3) of what was cleared."""
        asked = Question(
            {"valve": "piston", "supply": "town"},
            (),
            ("clean_injector", "replace_seals"),
            (Seen(0, "injector_clogged", (0.0, 1.0)), Seen(2, "proof", (1.0, 0.0))),
        )
        case = replace(told(small, asked), looked=())
        now = engine(
            small, plan(small, [n for n, _ in case.findings], entries(small, ("repairs",)))
        )
        counts = expect(now, chunk(small, [(case, 1.0)])).counts
        first = counts["repairs", "clean_injector", "clears", "injector_clogged"][:, 0]
        second = counts["repairs", "replace_seals", "clears", "injector_clogged"][:, 0]
        assert first.sum() == pytest.approx(1.0)
        assert second.sum() == pytest.approx(first[1])
        assert first[0] / (first[0] + second[0]) == pytest.approx(0.92 / (0.92 + 0.08 * 0.3))


class TestEyes:
    """Faults that were seen at their repair, or were not."""

    def test_not_seen_speaks_against_and_seen_for(self, small: Model) -> None:
        asked = Question(done=("clean_injector",))
        cases = [
            told(small, Question()),
            told(small, asked),
            told(small, asked, [Found("injector_clogged", 0.97, True)]),
        ]
        now = engine(small, plan(small, ["injector_clogged"], ()))
        faults = expect(now, chunk(small, [(case, 1.0) for case in cases])).faults[0]
        assert faults[1] < faults[0] < faults[2]
        share = small.faults["injector_clogged"].share.value
        assert faults[2] == pytest.approx(0.97 + 0.03 * share, abs=0.01)


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
