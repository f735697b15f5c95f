"""Does tuning find the numbers that made the cases, inside its intervals at the stated rate?

Each world is drawn from what the small model itself holds: every number from its own prior. Cases
are made in it under a policy that asks what is most telling by the model's beliefs, and tuned.
Beside it stands counting of complete cases only: shares among the faults that were seen,
misreadings and repairs among the cases in which the fault was seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import exp

import numpy as np

from brinebayes.cases.record import Case
from brinebayes.errors import ModelError
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds
from brinebayes.tuning import pooling
from brinebayes.tuning.changes import rounded
from brinebayes.tuning.em import fit
from brinebayes.tuning.gather import told_by
from brinebayes.tuning.intervals import beta_interval, intervals
from brinebayes.tuning.numbers import Entry, Path, entries, with_values
from brinebayes.tuning.spool import Spool
from tests.bench.measure import Measurement
from tests.tuning.conftest import FOLDER
from tests.tuning.simulated import Policy, cases

GROUPS = ("shares", "misreadings", "repairs")
NAME = "small model, numbers drawn from their priors"


def measure(worlds: int, count: int) -> Iterator[Measurement]:
    """Coverage of the intervals and mean error, of tuning and of counting complete cases."""
    model = read_model(FOLDER)
    learned = entries(model, GROUPS)
    inside: dict[str, list[bool]] = {group: [] for group in GROUPS}
    errors: dict[str, list[tuple[float, float, float]]] = {group: [] for group in GROUPS}
    complete: list[bool] = []
    for seed in range(worlds):
        truth = drawn(model, learned, seed)
        policy = Policy(complaints=False)
        made = tuple(cases(truth, model, count, 1000 + seed, policy))
        with Spool(model, ((told_by(model, case), 1.0) for case in made)) as kept:
            found = fit(model, kept, GROUPS, kept.names)
            known = intervals(found)
        counted = count_complete(model, made)
        real = {e.key: e.value[0] for e in entries(truth, GROUPS)}
        for entry in learned:
            if entry.key not in known or entry.key not in found.values:
                continue
            here, value = known[entry.key][0], real[entry.key]
            inside[entry.group].append(bool(here.low <= value <= here.high))
            if entry.key in counted:
                yes, of = counted[entry.key]
                mean = yes / of
                errors[entry.group].append(
                    (entry.value[0] - value, found.values[entry.key][0] - value, mean - value)
                )
                low, high = beta_interval((yes + 0.5) / (of + 1.0), of + 1.0)
                complete.append(low <= value <= high)
    note = f"{worlds} worlds of {count} cases"
    for group in GROUPS:
        share = 100.0 * float(np.mean(inside[group]))
        yield Measurement(NAME, f"{group}: truth inside the interval", share, "%", "95", note)
    for group, rows in errors.items():
        if rows:
            judged, tuned, naive = np.sqrt(np.mean(np.square(rows), axis=0))
            yield Measurement(NAME, f"{group}: error as judged", 100 * judged, "points (rms)")
            yield Measurement(NAME, f"{group}: error, tuned", 100 * tuned, "points (rms)")
            yield Measurement(NAME, f"{group}: error, complete cases", 100 * naive, "points (rms)")
    share = 100.0 * float(np.mean(complete))
    yield Measurement(NAME, "complete cases: truth inside their interval", share, "%")


def drawn(model: Model, learned: Sequence[Entry], seed: int) -> Model:
    """A model whose numbers are drawn from what this one holds of them: odds of faults before the
    call, worth as many units as `pooling.prior` says, everything else from its own distribution."""
    draw = np.random.default_rng(seed)
    held = pooling.prior(model)
    while True:
        values: dict[Path, tuple[float, ...]] = {}
        q = draw.beta(held.present, held.absent)
        without = draw.beta(held.sound, held.silent)
        none = float(np.prod(1.0 - q))
        call = 1.0 - (1.0 - without) * none
        values["about", "calls_without_fault"] = (without * none / call,)
        for fault, p in zip(model.faults, q, strict=True):
            values["faults", fault, "share"] = (float(p) / call,)
        for entry in learned:
            p, weight = entry.value[0], entry.weight
            if "factors" in entry.path:
                values[entry.key] = (p * exp(draw.normal(0.0, (pooling.RATIO / weight) ** 0.5)),)
            elif entry.group != "shares" and 0.0 < p < 1.0:
                values[entry.key] = rounded((draw.beta(p * weight, (1.0 - p) * weight),), False)
        changed = with_values(model, values)
        try:
            odds.base(changed)
        except ModelError:
            continue  # more of a fault than the sites at which it can be allow
        return changed


def count_complete(model: Model, made: Sequence[Case]) -> Mapping[Path, tuple[float, float]]:
    """(how often, of how many) by counting only what is whole: the fault was seen."""
    seen = [
        (case, [one.fault for one in case.confirmed if one.how == "seen"])
        for case in made
        if any(one.how == "seen" for one in case.confirmed)
    ]
    found: dict[Path, tuple[float, float]] = {}
    for fault in model.faults:
        yes = sum(fault in faults for _, faults in seen)
        found["faults", fault, "share"] = (float(yes), float(max(len(seen), 1)))
    for entry in entries(model, ("repairs",)):
        _, repair, _, fault = map(str, entry.path)
        tries = [case for case, faults in seen if fault in faults and repair in case.done]
        worked = sum(repair in case.proven for case in tries)
        if tries:
            found[entry.key] = (float(worked), float(len(tries)))
    for entry in entries(model, ("misreadings",)):
        name = str(entry.path[3])
        slips = _slips(model, name, seen)
        if slips is not None:
            found[entry.key] = slips
    return found


def _slips(
    model: Model, name: str, seen: Sequence[tuple[Case, list[str]]]
) -> tuple[float, float] | None:
    """Readings that are not the likeliest one for the fault that was seen, of all such."""
    from brinebayes.network.belief import Question, Seen, believe
    from brinebayes.visit.events import Saw

    likely: dict[str, str] = {}
    wrong = whole = 0.0
    for case, faults in seen:
        for event in case.standing:
            if isinstance(event, Saw) and event.observation == name:
                fault = faults[0]
                if fault not in likely:
                    question = Question(seen=(Seen(0, fault, (0.0, 1.0)),))
                    outcomes = believe(model, question).outcomes[name]
                    likely[fault] = graph.states_of(model, name)[int(np.argmax(outcomes))]
                whole += 1.0
                wrong += event.outcome != likely[fault]
    return (wrong, whole) if whole else None
