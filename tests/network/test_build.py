"""The network of a visit, against two libraries that know nothing of how beliefs are made here."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from brinebayes.errors import EvidenceConflict, ModelError, UsageError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.network import graph, odds
from brinebayes.network.belief import Belief, Question, Seen, believe
from brinebayes.network.build import World, build, everything
from brinebayes.network.tables import TooLargeError
from tests.network.enumeration import enumerate_worlds
from tests.reference.oracles import agrum_posteriors, pgmpy_posteriors
from tests.strategies import small_models, visits


@pytest.fixture(scope="module")
def small() -> Model:
    return read_model(Path(__file__).resolve().parents[1] / "models" / "small")


def on_network(world: World, question: Question) -> dict[str, np.ndarray]:
    """The evidence of a question as likelihoods over the variables of its network."""
    found: dict[str, np.ndarray] = {"call": np.array([0.0, 1.0])}
    seen = [Seen(0, complaint, (1.0, 0.0)) for complaint in question.complaints]
    latest = {}
    for one in (*seen, *question.seen):
        latest[one.observation, world.newest[one.observation][one.epoch]] = one
    for (name, copy), one in latest.items():
        likelihood = np.array(one.likelihood)
        variable = world.name(name, one.epoch)
        if name in world.paths:
            likelihood = likelihood[world.paths[name].at(copy)]
        found[variable] = found.get(variable, 1.0) * likelihood
    return found


def faults_now(world: World, posteriors: Mapping[str, np.ndarray]) -> list[float]:
    """P(present in the last epoch) out of posteriors over paths."""
    return [
        float(posteriors[name][paths.states[:, -1] == 1].sum())
        for name, paths in world.paths.items()
        if name in world.ways
    ]


class TestAgainstLibraries:
    """The built network, call and all, asked through pyAgrum and pgmpy."""

    @settings(max_examples=25, phases=[Phase.generate])
    @given(st.data())
    def test_pyagrum_on_random_models(self, data: st.DataObject) -> None:
        model = data.draw(small_models())
        question = data.draw(visits(model))
        try:
            odds.base(model)
            belief = believe(model, question)
        except (ModelError, EvidenceConflict):
            assume(False)
        assert isinstance(belief, Belief)
        seen = ((one.observation, one.epoch) for one in question.seen)
        keep = (*everything(model, question.done), *seen)
        world = build(model, question.site, question.done, keep)
        evidence = on_network(world, question)
        _, found = agrum_posteriors(world.network, evidence, [*model.faults, "works"])
        np.testing.assert_allclose(
            faults_now(world, found), list(belief.faults.values()), atol=1e-9
        )
        works = found["works"][world.paths["works"].states[:, -1] == 1].sum()
        assert belief.works == pytest.approx(float(works), abs=1e-9)

    @pytest.mark.parametrize("done", [(), ("clean_injector",), ("clean_injector",) * 2])
    def test_pgmpy_on_the_small_model(self, small: Model, done: tuple[str, ...]) -> None:
        last = len(done)
        question = Question(
            {"supply": "well"},
            ("hard_water",),
            done,
            (
                Seen(0, "level", (0.0, 1.0)),
                Seen(0, "suction_felt", (0.2, 0.7, 0.1)),
                Seen(last, "outlet_hardness", (0.0, 1.0)),
            ),
        )
        world = build(small, question.site, done)
        found = pgmpy_posteriors(world.network, on_network(world, question), list(small.faults))
        belief = believe(small, question)
        np.testing.assert_allclose(
            faults_now(world, found), list(belief.faults.values()), atol=1e-9
        )

    def test_the_stated_shares_come_out_of_the_exported_network(self, small: Model) -> None:
        world = build(small, {})
        _, found = agrum_posteriors(
            world.network, {"call": np.array([0.0, 1.0])}, [*small.faults, "call__without_fault"]
        )
        for fault_id, fault in small.faults.items():
            assert found[fault_id][1] == pytest.approx(fault.share.value, abs=1e-9)


class TestNetwork:
    """What is in the network and what it is called."""

    def test_without_repairs_variables_have_the_model_s_ids_and_states(self, small: Model) -> None:
        network = build(small, {}).network
        for name, mechanism in small.mechanisms.items():
            assert network.states(name) == mechanism.states
        for name in small.faults:
            assert network.states(name) == ("absent", "present")
        for name, observation in graph.observations(small).items():
            assert network.states(name) == tuple(observation.outcomes)

    def test_a_repair_makes_paths_only_of_what_it_touches(self, small: Model) -> None:
        world = build(small, {}, ("clear_brine_line",))
        assert world.paths["brine_line_blocked"].labels == (
            "absent>absent",
            "present>absent",
            "present>present",
        )
        assert len(world.paths["suction"].epochs) == 1
        assert len(world.paths["draw"].epochs) == 2
        assert world.name("suction_felt", 1) == world.name("suction_felt", 0)
        assert world.name("level", 1) != world.name("level", 0)
        assert world.name("salt_use", 1) == world.name("salt_use", 0)

    def test_only_what_is_kept_is_built(self, small: Model) -> None:
        world = build(small, {}, keep=[("suction_felt", 0)])
        assert set(world.network.names) == {
            *small.faults, "supply", "suction__c0", "suction", "suction_felt"
        }  # fmt: skip

    def test_everything_keeps_the_call(self, small: Model) -> None:
        assert ("call", 0) in everything(small)
        assert "call" in build(small, {}).network.names

    def test_open_roots_hold_the_site(self, small: Model) -> None:
        world = build(small, {"supply": "well"})
        table = world.network.table_of["injector_clogged"].values
        assert table[1] == pytest.approx(odds.priors(small, {"supply": "well"})["injector_clogged"])
        assert world.network.table_of["supply"].values.tolist() == [0.0, 1.0]

    def test_unknown_ids_and_epochs_are_refused(self, small: Model) -> None:
        with pytest.raises(UsageError, match="nothing named 'x'"):
            build(small, {}, keep=[("x", 0)])
        with pytest.raises(UsageError, match="only 0 repairs"):
            build(small, {}, keep=[("level", 1)])
        with pytest.raises(UsageError, match="did you mean clean_injector"):
            build(small, {}, ("clean_injectr",))

    @settings(max_examples=25, phases=[Phase.generate])
    @given(st.data())
    def test_every_path_that_can_occur_is_there(self, data: st.DataObject) -> None:
        """The paths of every mechanism hold all that enumeration meets, epoch by epoch."""
        model = data.draw(small_models())
        done = tuple(data.draw(st.lists(st.sampled_from(sorted(model.repairs)), max_size=2)))
        try:
            odds.base(model)
        except ModelError:
            assume(False)
        world = build(model, {}, done)
        rows = enumerate_worlds(model, {}, done)
        assume(len(rows.weights) <= 20_000)
        for name in (*model.faults, *model.mechanisms):
            if name not in world.paths:
                continue
            paths = world.paths[name]
            met = np.stack([rows.chances(name, e).argmax(axis=1) for e in paths.epochs], axis=1)
            kept = {tuple(path) for path in paths.states.tolist()}
            assert {tuple(path) for path in np.unique(met, axis=0).tolist()} <= kept


class TestMostEntries:
    """A table that no tree could hold is refused before it is made."""

    def test_refused_where_one_table_is_larger(self, small: Model) -> None:
        largest = max(table.values.size for table in build(small, {}).network.tables)
        build(small, {}, most_entries=largest)
        with pytest.raises(TooLargeError, match="entries"):
            build(small, {}, most_entries=largest // 8)

    def test_many_repairs_with_much_seen_are_refused_and_not_made(self) -> None:
        """Ten repairs all over a unit, everything asked after each: one table alone would have
        hundreds of millions of entries, more memory than a machine has."""
        model = read_model(model_folder("softener"))
        done = tuple(model.repairs)[:10]
        keep = [(name, epoch) for name in graph.observations(model) for epoch in range(11)]
        with pytest.raises(TooLargeError) as refusal:
            build(model, {}, done, keep, most_entries=500_000)
        assert refusal.value.entries > 500_000
