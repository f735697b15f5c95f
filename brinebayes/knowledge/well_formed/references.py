"""Every id, state, value and outcome that is named exists and is of a kind that fits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from brinebayes.knowledge.names import listed, suggest
from brinebayes.knowledge.schema import PROOF, Condition, Model, Row, Spread, States
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed.known import (
    CONDITION,
    FAULT,
    MECHANISM,
    OBSERVATION,
    PARENTS,
    Known,
)
from brinebayes.knowledge.well_formed.spots import (
    ABOUT,
    CHECKS,
    COMPLAINTS,
    FAULTS,
    MECHANISMS,
    REPAIRS,
    SETUPS,
    SITE,
    Spot,
)

SAID = ("said", "not_said")


def findings(model: Model, known: Known) -> Iterator[Finding]:
    """Names that lead nowhere; those in rules.yaml are the business of `rules`."""
    yield from _about(model, known)
    for name, site in model.site.items():
        for value_id, value in site.values.items():
            at = SITE / name / "values" / value_id / "factors"
            yield from ids(known, at, value.factors, (FAULT,))
    for name, fault in model.faults.items():
        at = FAULTS / name
        yield from condition(known, at / "applies", fault.applies, (CONDITION,))
        yield from condition(known, at / "typical", fault.typical, (OBSERVATION,))
    for name, mechanism in model.mechanisms.items():
        at = MECHANISMS / name
        for index, cause in enumerate(mechanism.causes):
            yield from condition(known, at / "causes" / index / "when", cause.when, PARENTS)
            effect = at / "causes" / index / "effect"
            yield from _states_of(effect, cause.effect, mechanism.states)
        if mechanism.leak is not None:
            yield from _states_of(at / "leak", mechanism.leak, mechanism.states)
        for index, case in enumerate(mechanism.cases):
            yield from condition(known, at / "cases" / index / "when", case.when, PARENTS)
            spot = at / "cases" / index / "then"
            yield from one_of(spot, case.then, mechanism.states, f"state of {name}")
    yield from _checks(model, known)
    yield from _repairs(model, known)
    yield from _setups(model, known)
    for name, complaint in model.complaints.items():
        at = COMPLAINTS / name / "rows"
        yield from _rows(known, at, complaint.rows, SAID)
        for index, row in enumerate(complaint.rows):
            lacking = [outcome for outcome in SAID if outcome not in row.gives.of]
            if lacking:
                says = f"gives both said and not_said; {lacking[0]} is missing"
                yield (at / index / "gives" / "of").says(says)


def _about(model: Model, known: Known) -> Iterator[Finding]:
    about = model.about
    yield from condition(known, ABOUT / "works", about.works, (MECHANISM,))
    if not about.works:
        says = "names at least one mechanism and the states in which the unit works"
        yield (ABOUT / "works").says(says, on_key=True)
    refused = known.refuses(about.unknown_cause, (FAULT,))
    if refused:
        yield (ABOUT / "unknown_cause").says(refused)
    yield from _needs_and_leaves(known, ABOUT / "proof", about.proof.needs, about.proof.leaves)
    if about.brine is not None:
        yield from condition(
            known, ABOUT / "brine" / "empty_on", about.brine.empty_on, (CONDITION,)
        )


def _checks(model: Model, known: Known) -> Iterator[Finding]:
    for name, check in model.checks.items():
        at = CHECKS / name
        yield from condition(known, at / "applies", check.applies, (CONDITION,))
        yield from _needs_and_leaves(known, at, check.needs, check.leaves)
        for index, other in enumerate(check.disturbs):
            yield from one_of(at / "disturbs" / index, other, model.checks, "check")
        if not check.observations:
            yield (at / "observations").says("a check yields at least one observation", on_key=True)
        for observation_id, observation in check.observations.items():
            spot = at / "observations" / observation_id
            if len(observation.outcomes) < 2:
                says = "an observation has at least two outcomes"
                yield (spot / "outcomes").says(says, on_key=True)
            outcomes = tuple(observation.outcomes)
            yield from _rows(known, spot / "rows", observation.rows, outcomes)


def _repairs(model: Model, known: Known) -> Iterator[Finding]:
    for name, repair in model.repairs.items():
        at = REPAIRS / name
        yield from condition(known, at / "applies", repair.applies, (CONDITION,))
        yield from _needs_and_leaves(known, at, repair.needs, repair.leaves)
        yield from ids(known, at / "clears", repair.clears, (FAULT,))
        yield from ids(known, at / "harms", repair.harms, (FAULT,))
        if not repair.clears:
            yield (at / "clears").says("a repair clears at least one fault", on_key=True)
        for index, part in enumerate(repair.parts):
            yield from one_of(at / "parts" / index, part, model.parts, "part")


def _setups(model: Model, known: Known) -> Iterator[Finding]:
    for name, variable in model.setups.variables.items():
        at = SETUPS / "variables" / name
        yield from one_of(at / "worst", variable.worst, variable.values, f"value of {name}")
        yield from one_of(at / "service", variable.service, variable.values, f"value of {name}")
        if variable.found:
            yield from one_of(at / "found", variable.found, variable.values, f"value of {name}")
    for name, move in model.setups.moves.items():
        at = SETUPS / "moves" / name
        yield from _needs_and_leaves(known, at, move.needs, move.leaves)
        if not move.leaves:
            yield (at / "leaves").says("a move sets at least one variable", on_key=True)
    yield from _setup(known, SETUPS / "parked", model.setups.parked)
    for name, invariant in model.setups.invariants.items():
        at = SETUPS / "invariants" / name / "never"
        yield from _setup(known, at, invariant.never)
        if not invariant.never:
            yield at.says("names what must never be; empty, it would forbid every setup", True)


# --- shared ------------------------------------------------------------------------------------


def ids(
    known: Known, spot: Spot, names: Iterable[str], kinds: tuple[str, ...]
) -> Iterator[Finding]:
    """Keys of a mapping that are not ids of these kinds."""
    for name in names:
        refused = known.refuses(name, kinds)
        if refused:
            yield (spot / name).says(refused, on_key=True)


def condition(known: Known, spot: Spot, of: Condition, kinds: tuple[str, ...]) -> Iterator[Finding]:
    """Ids that are not of these kinds, and states that they do not have."""
    for name, states in of.items():
        refused = "" if name == PROOF and OBSERVATION in kinds else known.refuses(name, kinds)
        if refused:
            yield (spot / name).says(refused, on_key=True)
        else:
            yield from _states(spot / name, states, known.states[name], name)


def one_of(spot: Spot, word: str, names: Iterable[str], what: str) -> Iterator[Finding]:
    """`word` if it is not one of the names."""
    names = tuple(names)
    if word not in names:
        hint = suggest(word, names) or f" (there are: {listed(names)})"
        yield spot.says(f"there is no {what} {word}{hint}")


def _states(spot: Spot, states: States, names: tuple[str, ...], owner: str) -> Iterator[Finding]:
    if isinstance(states, str):
        yield from one_of(spot, states, names, f"state of {owner}")
        return
    if not states:
        yield spot.says("names no state; it could never hold")
    for index, state in enumerate(states):
        yield from one_of(spot / index, state, names, f"state of {owner}")
        if state in states[:index]:
            yield (spot / index).says(f"{state} is named twice")


def _rows(
    known: Known, spot: Spot, rows: tuple[Row, ...], outcomes: tuple[str, ...]
) -> Iterator[Finding]:
    for index, row in enumerate(rows):
        yield from condition(known, spot / index / "when", row.when, PARENTS)
        yield from _states_of(spot / index / "gives", row.gives, outcomes)


def _states_of(spot: Spot, spread: Spread, names: tuple[str, ...]) -> Iterator[Finding]:
    for state in spread.of:
        if state not in names:
            hint = suggest(state, names) or f" (there are: {listed(names)})"
            says = f"there is no state or outcome {state} here{hint}"
            yield (spot / "of" / state).says(says, on_key=True)


def _needs_and_leaves(
    known: Known, spot: Spot, needs: Condition, leaves: Mapping[str, str]
) -> Iterator[Finding]:
    yield from _setup(known, spot / "needs", needs)
    yield from _setup(known, spot / "leaves", leaves)


def _setup(known: Known, spot: Spot, of: Condition) -> Iterator[Finding]:
    for name, values in of.items():
        if name not in known.setups:
            hint = suggest(name, known.setups) or f" (there are: {listed(known.setups)})"
            yield (spot / name).says(f"there is no setup variable {name}{hint}", on_key=True)
        else:
            yield from _states(spot / name, values, known.setups[name], name)
