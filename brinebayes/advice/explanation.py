"""Why this act: what each outcome would mean and what speaks for the act, as data for sentences."""

from __future__ import annotations

from collections.abc import Mapping

from brinebayes.advice.choose import Choice, Valued
from brinebayes.advice.compared import compared
from brinebayes.knowledge.schema import Model
from brinebayes.network.belief import Belief
from brinebayes.network.carried import CarriedBelief
from brinebayes.record import record
from brinebayes.visit.state import PROOF

#: Faults named for each outcome.
LEADING = 3
#: Outcomes less likely than this are not named in a reason.
NAMED_FROM = 0.02


@record
class Meaning:
    """One outcome of an observation: how likely it is, and the faults it would leave in front."""

    observation: str
    outcome: str
    probability: float
    leading: tuple[tuple[str, float], ...]


@record
class Reason:
    """A sentence to be: the name of its template and what fills it."""

    template: str
    values: Mapping[str, str | float]


def meanings(
    model: Model,
    belief: Belief | CarriedBelief,
    valued: Valued,
    answered: frozenset[str] = frozenset(),
) -> tuple[Meaning, ...]:
    """What each outcome of a check would mean, from the exact joint; empty for other acts.

    Observations that are `answered` already are left out.
    """
    if valued.act.kind != "check":
        return ()
    faults = tuple(model.faults)
    result = []
    for name, observation in model.checks[valued.act.id].observations.items():
        if name in answered:
            continue
        chances = belief.outcomes[name]
        joint = belief.joint[name]
        for index, outcome in enumerate(observation.outcomes):
            chance = float(chances[index])
            after = joint[index] / chance if chance > 0.0 else joint[index]
            order = sorted(range(len(faults)), key=lambda i: (-round(float(after[i]), 9), i))
            leading = tuple((faults[i], float(after[i])) for i in order[:LEADING])
            result.append(Meaning(name, outcome, chance, leading))
    return tuple(result)


def reason(
    model: Model,
    belief: Belief | CarriedBelief,
    choice: Choice,
    valued: Valued,
    answered: frozenset[str] = frozenset(),
) -> Reason:
    """What speaks for an act, in the form that `wording` turns into a sentence."""
    act = valued.act
    leader = max(belief.faults, key=lambda fault: compared(belief.faults[fault]))
    values: dict[str, str | float] = {
        "leader": model.faults[leader].name,
        "leader_share": belief.faults[leader],
        "works": belief.works,
        "works_after": valued.works_after,
        "bits": valued.bits,
        "expected_cost": valued.expected_cost,
        "currency": model.about.currency,
    }
    if act.kind == "check":
        told = meanings(model, belief, valued, answered)
        return _check_reason(model, choice, valued, told, values)
    if act.id in model.repairs:
        clears = model.repairs[act.id].clears
        target = max(clears, key=lambda fault: compared(belief.faults[fault]))
        values["target"] = model.faults[target].name
        values["target_share"] = belief.faults[target]
        return Reason(f"{act.kind}.mends", values)
    if act.id == PROOF:
        return Reason("prove", values)
    if act.kind == "finish":
        return Reason("finish", values)
    values["unknown_share"] = belief.faults[model.about.unknown_cause]
    return Reason("escalate.unknown", values)


def _check_reason(
    model: Model,
    choice: Choice,
    valued: Valued,
    told: tuple[Meaning, ...],
    values: dict[str, str | float],
) -> Reason:
    """Two likely answers to one question that leave different faults in front, else one answer."""
    likely = [item for item in told if item.probability >= NAMED_FROM] or list(told)
    likely.sort(key=lambda item: -compared(item.probability))
    pairs = [
        (first, other)
        for place, first in enumerate(likely)
        for other in likely[place + 1 :]
        if other.observation == first.observation and other.leading[0][0] != first.leading[0][0]
    ]
    repairs = [item for item in choice.ranked if item.act.id in model.repairs]
    if repairs:
        values["saves"] = max(0.0, repairs[0].expected_cost - valued.expected_cost)
    if not likely:
        return Reason("check.wanted", values)
    if not pairs:
        surest = max(likely, key=lambda item: compared(item.probability * item.leading[0][1]))
        return Reason("check.confirms", values | _named(model, "first", surest))
    first, other = max(pairs, key=lambda pair: compared(pair[1].probability))
    values |= _named(model, "first", first)
    return Reason("check.splits", values | _named(model, "second", other))


def _named(model: Model, prefix: str, meaning: Meaning) -> dict[str, str | float]:
    observation = model.observation(meaning.observation)
    fault, chance = meaning.leading[0]
    return {
        f"{prefix}_outcome": observation.outcomes[meaning.outcome],
        f"{prefix}_fault": model.faults[fault].name,
        f"{prefix}_share": chance,
    }
