"""Posteriors of many sets of evidence, against the engine of a visit and against pyAgrum."""

from __future__ import annotations

import numpy as np
import pyagrum
import pytest

from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import Question, Seen, believe
from brinebayes.network.build import build
from brinebayes.scoring.known import Known, known, steps
from brinebayes.scoring.shapes import plan
from brinebayes.sensitivity.moves import drawn, movable, possible
from tests.reference.oracles import agrum_network
from tests.scoring.drawn import cases


def asked(model: Model, one: Known) -> Question:
    """The same evidence as a question."""
    seen = tuple(Seen(0, name, values) for name, values in one.findings)
    return Question(dict(one.site), (), (), seen)


class TestPosteriors:
    """One row for each set of evidence."""

    @pytest.mark.parametrize("which", ["small", "shipped"])
    def test_as_a_visit_believes(self, which: str, request: pytest.FixtureRequest) -> None:
        model = request.getfixturevalue(which)
        sets = [s for case in cases(model, 6, seed=1) for s in steps(model, case)]
        logs, faults = plan(model).engine(model).posteriors(sets)
        for one, log, row in zip(sets, logs, faults, strict=True):
            belief = believe(model, asked(model, one))
            assert np.allclose(row, list(belief.faults.values()), atol=1e-10)
            assert log == pytest.approx(belief.mixture.log_probability, abs=1e-9)

    def test_as_pyagrum_with_a_variable_for_the_call(self, shipped: Model) -> None:
        case = next(iter(cases(shipped, 1, seed=2)))
        last = steps(shipped, case)[-1]
        _, ours = plan(shipped).engine(shipped).posteriors([last])
        oracle = pyagrum.LazyPropagation(agrum_network(build(shipped, dict(last.site)).network))
        oracle.setEvidence({"call": [0.0, 1.0]} | {n: list(v) for n, v in last.findings})
        for fault in shipped.faults:
            oracle.addTarget(fault)
        oracle.makeInference()
        theirs = [oracle.posterior(fault).toarray()[-1] for fault in shipped.faults]
        assert np.allclose(ours[0], theirs, atol=1e-10)

    def test_smaller_trees_change_nothing(self, shipped: Model) -> None:
        sets = [s for c in cases(shipped, 30, seed=3, looked_at=4) for s in steps(shipped, c)]
        whole = plan(shipped).engine(shipped)
        several = plan(shipped, sets).engine(shipped)
        assert len(whole.pairs) == 1
        assert len(several.pairs) > 1
        assert several.pairs[0].tree.entries < whole.pairs[0].tree.entries / 2
        for ours, theirs in zip(several.posteriors(sets), whole.posteriors(sets), strict=True):
            assert np.allclose(ours, theirs, atol=1e-10)

    def test_the_plan_serves_other_numbers(self, shipped: Model) -> None:
        """More may hang together in a model with other numbers; its trees stay as small."""
        other = possible(shipped, drawn(shipped, movable(shipped), np.random.default_rng(1)))
        assert other is not None
        engine = plan(shipped).engine(other)
        assert max(pair.healthy.entries for pair in engine.pairs) < 10_000
        sets = steps(other, next(iter(cases(shipped, 1, seed=4))))
        for one, row in zip(sets, engine.posteriors(sets)[1], strict=True):
            belief = believe(other, asked(other, one))
            assert np.allclose(row, list(belief.faults.values()), atol=1e-10)

    @pytest.mark.parametrize("likelihood", [(1.0, 0.0), (0.0, 1.0), (0.3, 0.6)])
    def test_a_proof_of_an_untouched_unit(
        self, small: Model, likelihood: tuple[float, float]
    ) -> None:
        question = Question({}, ("hard_water",), (), (Seen(0, "proof", likelihood),))
        log, faults = plan(small).engine(small).posteriors([Known(), known(question)])
        belief = believe(small, question)
        assert np.allclose(faults[1], list(belief.faults.values()), atol=1e-12)
        assert log[1] == pytest.approx(belief.mixture.log_probability)

    def test_the_impossible_among_the_possible(self, small: Model) -> None:
        impossible = Known((), (("level", (0.0, 0.0)),))
        logs, faults = plan(small).engine(small).posteriors([Known(), impossible])
        assert np.isfinite(logs[0])
        assert logs[1] == -np.inf
        assert not faults[1].any()

    def test_sites_of_which_more_or_less_is_known(self, shipped: Model) -> None:
        known_ = [
            (),
            (("water_source", "well_iron"),),
            (("age", "over_ten"), ("frost", "sheltered")),
        ]
        _, faults = plan(shipped).engine(shipped).posteriors([Known(site) for site in known_])
        for site, row in zip(known_, faults, strict=True):
            belief = believe(shipped, Question(dict(site)))
            assert np.allclose(row, list(belief.faults.values()), atol=1e-12)
