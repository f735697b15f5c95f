"""Which rules hold, given what is known. What a rule then does is the business of `advice`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.schema import PROOF, Model, Rule, States
from brinebayes.record import record


@record
class Facts:
    """What is known at this point of a visit.

    `saw` holds the outcome of each observation made since the last repair, `saw_history` those of
    the whole visit; of the latter only observations of history count. `failed`: proofs that did.
    """

    site: Mapping[str, str] = ReadOnly({})
    complaints: tuple[str, ...] = ()
    saw: Mapping[str, str] = ReadOnly({})
    saw_history: Mapping[str, str] = ReadOnly({})
    done: tuple[str, ...] = ()
    failed: int = 0


@record
class Fired:
    """A rule that holds; `because` are the facts that made it hold, in words of the model."""

    rule_id: str
    rule: Rule
    because: tuple[str, ...]


def fired(model: Model, facts: Facts) -> tuple[Fired, ...]:
    """The rules whose `when` holds, in the order of their ids.

    After a repair the world is a new one: an observation made before it counts as not made, unless
    it speaks of history.
    """
    seen = _seen(model, facts)
    found: list[Fired] = []
    for rule_id in sorted(model.rules):
        because = _because(model, model.rules[rule_id], facts, seen)
        if because is not None:
            found.append(Fired(rule_id, model.rules[rule_id], because))
    return tuple(found)


def _seen(model: Model, facts: Facts) -> dict[str, str]:
    """Observation -> outcome, for all that counts as seen now."""
    history = {
        name: facts.saw_history[name]
        for check in model.checks.values()
        for name, observation in check.observations.items()
        if observation.history and name in facts.saw_history
    }
    return {**history, **facts.saw}


def _because(
    model: Model, rule: Rule, facts: Facts, seen: Mapping[str, str]
) -> tuple[str, ...] | None:
    """The facts that make every part of `when` hold; None if one part does not."""
    when = rule.when
    parts = [
        *_matches(model, when.saw, seen, "saw"),
        *_matches(model, when.site, facts.site, "site"),
    ]
    if when.not_seen:
        absent = all(name not in seen for name in when.not_seen)
        parts.append(f"not yet seen: {_names(model, when.not_seen)}" if absent else None)
    if when.complaint:
        said = [name for name in when.complaint if name in facts.complaints]
        words = "; ".join(model.complaints[name].name for name in said)
        parts.append(f"complaint: {words}" if said else None)
    if when.done:
        done = [name for name in when.done if name in facts.done]
        words = "; ".join(model.repairs[name].name for name in done)
        parts.append(f"done: {words}" if done else None)
    if when.failed:
        tried = f"proofs that failed: {facts.failed}"
        parts.append(tried if facts.failed >= when.failed else None)
    held = tuple(part for part in parts if part is not None)
    return held if len(held) == len(parts) else None


def _matches(
    model: Model, wanted: Mapping[str, States], known: Mapping[str, str], kind: str
) -> Iterator[str | None]:
    for name, states in wanted.items():
        value = known.get(name)
        if value is None or not (value == states if isinstance(states, str) else value in states):
            yield None
        elif kind == "site":
            condition = model.site[name]
            yield f"{condition.name}: {condition.values[value].name}"
        else:
            yield f"{_name(model, name)}: {_outcome(model, name, value)}"


def _names(model: Model, names: tuple[str, ...]) -> str:
    return "; ".join(_name(model, name) for name in names)


def _name(model: Model, observation: str) -> str:
    if observation == PROOF:
        return model.about.proof.name
    return model.observation(observation).name


def _outcome(model: Model, observation: str, outcome: str) -> str:
    if observation == PROOF:
        return outcome
    return model.observation(observation).outcomes.get(outcome, outcome)
