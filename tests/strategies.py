"""Generators that more than one room's tests use."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from brinebayes.knowledge import schema
from brinebayes.network import graph
from brinebayes.network.evidence import Question as VisitQuestion
from brinebayes.network.evidence import Seen
from brinebayes.network.tables import Network, Table, Variable

Floats = NDArray[np.float64]

#: Laws that are checked on generated data: no deadline, since a busy machine proves nothing.
LAW = settings(max_examples=60, deadline=None)
#: The same where an outside library is asked each time, which takes its time.
SLOW_LAW = settings(max_examples=15, deadline=None)


# --- discrete networks -------------------------------------------------------------------------


@dataclass(frozen=True)
class Question:
    """A network, what is left out of the tree, and evidence: hard, virtual, or impossible."""

    network: Network
    leaves: tuple[str, ...]
    likelihoods: dict[str, Floats]


def rows(states: int, *, zeros: bool = True) -> st.SearchStrategy[Floats]:
    """One row of a table: small whole numbers over their sum, sometimes with zeros among them."""
    numbers = st.lists(st.integers(0 if zeros else 1, 9), min_size=states, max_size=states)
    return numbers.filter(any).map(lambda row: np.array(row, dtype=float) / sum(row))


@st.composite
def networks(draw: st.DrawFn, *, most: int = 7, zeros: bool = True) -> Network:
    """One to `most` variables of two or three states, each with up to three earlier parents."""
    count = draw(st.integers(1, most))
    states = [draw(st.integers(2, 3)) for _ in range(count)]
    variables = [Variable(f"v{i}", tuple(f"s{k}" for k in range(n))) for i, n in enumerate(states)]
    tables = []
    for i, n in enumerate(states):
        parents = draw(st.lists(st.integers(0, i - 1), max_size=3, unique=True)) if i else []
        shape = [states[p] for p in parents]
        flat = [draw(rows(n, zeros=zeros)) for _ in range(int(np.prod(shape)))]
        tables.append(Table(f"v{i}", [f"v{p}" for p in parents], np.reshape(flat, [*shape, n])))
    return Network(draw(st.permutations(variables)), tables)


@st.composite
def likelihoods(draw: st.DrawFn, states: int) -> Floats:
    """Hard evidence, or virtual evidence on any scale."""
    if draw(st.booleans()):
        return np.eye(states)[draw(st.integers(0, states - 1))]
    return draw(rows(states)) * draw(st.sampled_from([1.0, 0.25, 7.0]))


@st.composite
def questions(draw: st.DrawFn, *, most: int = 7, zeros: bool = True) -> Question:
    """A network with evidence on some of its variables."""
    network = draw(networks(most=most, zeros=zeros))
    childless = [name for name in network.names if not network.children(name)]
    # One variable at least stays in the tree; which of the others do is drawn.
    leaves = tuple(name for name in childless if draw(st.booleans()))[: len(network.names) - 1]
    observed = draw(st.lists(st.sampled_from(network.names), max_size=4, unique=True))
    evidence = {name: draw(likelihoods(len(network.states(name)))) for name in observed}
    return Question(network, leaves, evidence)


# --- models of a unit --------------------------------------------------------------------------


def number(value: float) -> schema.Number:
    """A number with an invented reason."""
    return schema.Number(value, "judgement", 10, "invented")


@st.composite
def spreads(draw: st.DrawFn, states: tuple[str, ...], *, zeros: bool = True) -> schema.Spread:
    """A distribution over states; those with probability zero are not named."""
    row = draw(rows(len(states), zeros=zeros)).tolist()
    of = {state: p for state, p in zip(states, row, strict=True) if p > 0.0}
    return schema.Spread(of, "judgement", 10, "invented")


@st.composite
def conditions(
    draw: st.DrawFn, known: dict[str, tuple[str, ...]], *, most: int = 2
) -> dict[str, str | tuple[str, ...]]:
    """One to `most` parents with one or more of their states, not all of them."""
    names = draw(st.lists(st.sampled_from(sorted(known)), min_size=1, max_size=most, unique=True))
    found: dict[str, str | tuple[str, ...]] = {}
    for name in names:
        states = known[name]
        chosen = draw(st.lists(st.sampled_from(states), min_size=1, max_size=len(states) - 1))
        unique = tuple(dict.fromkeys(chosen))
        found[name] = unique[0] if len(unique) == 1 else unique
    return found


@st.composite
def mechanisms(draw: st.DrawFn, known: dict[str, tuple[str, ...]]) -> schema.Mechanism:
    """A noisy-MAX of one to three causes, or a decision list with a last case for the rest."""
    states = ("fine", "poor", "bad")[: draw(st.integers(2, 3))]
    if draw(st.integers(0, 3)) == 0:
        whens = draw(st.lists(conditions(known), min_size=1, max_size=2))
        cases = tuple(schema.Case(when, draw(st.sampled_from(states))) for when in [*whens, {}])
        return schema.Mechanism("m", states, "invented", cases=cases)
    whens = draw(st.lists(conditions(known), min_size=1, max_size=3))
    causes = tuple(schema.Cause(when, draw(spreads(states))) for when in whens)
    leak = draw(st.none() | spreads(states))
    return schema.Mechanism("m", states, "invented", causes=causes, leak=leak)


@st.composite
def observations(
    draw: st.DrawFn, known: dict[str, tuple[str, ...]], *, outcomes: tuple[str, ...], zeros: bool
) -> tuple[schema.Row, ...]:
    """Rows of an observation; the last one covers the rest."""
    whens = draw(st.lists(conditions(known), min_size=1, max_size=2))
    parents = list(dict.fromkeys(name for when in whens for name in when))[:3]
    whens = [{p: s for p, s in when.items() if p in parents} for when in whens]
    return tuple(schema.Row(when, draw(spreads(outcomes, zeros=zeros))) for when in [*whens, {}])


@st.composite
def small_models(draw: st.DrawFn, *, zeros: bool = True) -> schema.Model:
    """A well-formed model of a unit that is small enough to enumerate."""
    fault_ids = tuple(f"f{i}" for i in range(draw(st.integers(2, 3))))
    without = draw(st.sampled_from([0.0, 0.05, 0.2]))
    parts = [draw(st.integers(1, 9)) for _ in fault_ids]
    total = (1.0 - without) * draw(st.sampled_from([1.02, 1.1, 1.25]))
    shares = [min(total * part / sum(parts), 0.95) for part in parts]
    site = {}
    for i in range(draw(st.integers(0, 2))):
        factors = {
            fault: number(draw(st.sampled_from([0.25, 2.0, 4.0])))
            for fault in draw(st.lists(st.sampled_from(fault_ids), max_size=2, unique=True))
        }
        share = draw(st.sampled_from([0.2, 0.5, 0.7]))
        values = {
            "usual": schema.SiteValue("usual", number(1.0 - share)),
            "other": schema.SiteValue("other", number(share), factors),
        }
        site[f"c{i}"] = schema.SiteCondition("c", "?", values)
    limited = draw(st.sampled_from([None, *fault_ids])) if site else None
    faults = {
        fault: schema.Fault(
            fault,
            draw(st.sampled_from(["a", "b"])),
            number(share),
            "invented",
            applies={"c0": "usual"} if fault == limited else {},
        )
        for fault, share in zip(fault_ids, shares, strict=True)
    }
    known: dict[str, tuple[str, ...]] = dict.fromkeys(fault_ids, schema.FAULT_STATES)
    known |= {name: tuple(condition.values) for name, condition in site.items()}
    found = {}
    for i in range(draw(st.integers(1, 3))):
        found[f"m{i}"] = draw(mechanisms(known))
        known[f"m{i}"] = found[f"m{i}"].states
    checks = {}
    for i in range(draw(st.integers(1, 3))):
        outcomes = ("x", "y", "z")[: draw(st.integers(2, 3))]
        observation = schema.Observation(
            f"o{i}",
            "?",
            dict.fromkeys(outcomes, "invented"),
            draw(observations(known, outcomes=outcomes, zeros=zeros)),
            number(draw(st.sampled_from([0.0, 0.1] if zeros else [0.1]))),
            history=draw(st.integers(0, 3)) == 0,
        )
        checks[f"k{i}"] = schema.Check(
            "k", number(1), number(0), "technician", {f"o{i}": observation}, "invented"
        )
    said = draw(observations(known, outcomes=("said", "not_said"), zeros=zeros))
    repairs = {}
    for i in range(2):
        cleared = draw(st.lists(st.sampled_from(fault_ids), min_size=1, max_size=2, unique=True))
        harmed = draw(st.lists(st.sampled_from(fault_ids), max_size=1))
        repairs[f"r{i}"] = schema.Repair(
            "r",
            "R1",
            number(5),
            "technician",
            "invented",
            {fault: number(draw(st.sampled_from([0.3, 0.9, 1.0]))) for fault in cleared},
            draw(st.booleans()),
            harms={fault: number(draw(st.sampled_from([0.02, 0.3]))) for fault in harmed},
        )
    needed = draw(st.lists(st.sampled_from(sorted(found)), min_size=1, max_size=2, unique=True))
    proof = schema.Proof("p", "how", number(5), number(5), number(0.9), number(0.2), {})
    about = schema.About(
        id="small",
        name="small",
        version="1",
        currency="EUR",
        note="invented",
        calls_without_fault=number(without),
        unknown_cause=fault_ids[-1],
        works=dict.fromkeys(needed, "fine"),
        money=schema.Money(*(number(1) for _ in range(5))),
        proof=proof,
    )
    body = (about, site, faults, found, checks, repairs, said)
    return schema.Model(
        hash=hashlib.sha256(repr(body).encode()).hexdigest(),
        about=about,
        site=site,
        faults=faults,
        mechanisms=found,
        checks=checks,
        parts={},
        repairs=repairs,
        setups=schema.Setups({}, {}, {}),
        rules={},
        complaints={"q": schema.Complaint("q", ("invented",), said)},
        sources={},
    )


@st.composite
def visits(draw: st.DrawFn, model: schema.Model, *, most_repairs: int = 2) -> VisitQuestion:
    """A question about a visit to a unit of `model`: any site, repairs, sayings and sightings."""
    site = {
        name: draw(st.sampled_from(sorted(condition.values)))
        for name, condition in model.site.items()
        if draw(st.booleans())
    }
    done = tuple(draw(st.lists(st.sampled_from(sorted(model.repairs)), max_size=most_repairs)))
    askable = [o for check in model.checks.values() for o in check.observations]
    askable += [*model.mechanisms, *model.faults, "proof"]
    seen = []
    for name in draw(st.lists(st.sampled_from(sorted(askable)), max_size=4)):
        count = len(graph.states_of(model, name))
        given = tuple(draw(likelihoods(count)).tolist())
        seen.append(Seen(draw(st.integers(0, len(done))), name, given))
    seen.sort(key=lambda one: one.epoch)
    complaints = tuple(model.complaints) if draw(st.booleans()) else ()
    return VisitQuestion(site, complaints, done, tuple(seen))
