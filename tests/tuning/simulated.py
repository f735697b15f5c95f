"""Cases made up from a model: who calls, what is seen, what is repaired and what is found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from brinebayes.cases.record import Case, Confirmed, Step
from brinebayes.knowledge.schema import Model
from brinebayes.network import graph, odds, worlds
from brinebayes.network.belief import Belief, Question, Seen, believe
from brinebayes.tuning.told import confirmation
from brinebayes.visit.events import (
    Complained,
    Done,
    Ended,
    Event,
    ModelIs,
    Saw,
    SiteKnown,
)

#: A technician who opens something sees a fault that is there so often.
EYES = 0.6
#: What is said to be seen was there so often.
SURE = 0.97


@dataclass(frozen=True)
class Policy:
    """A cheap way to work: the most telling observation a minute until a fault stands out, then
    its repair. `at_most`: observations before the first repair. `random`: the part of observations
    taken at random instead. `complaints`: whether anybody takes them down; a record cannot say that
    there was none."""

    at_most: int = 4
    stands_out: float = 0.75
    random: float = 0.0
    complaints: bool = True


def cases(
    truth: Model,
    advisor: Model,
    count: int,
    seed: int,
    policy: Policy = Policy(),
    first: str = "2024-01-01",
    days: int = 700,
) -> Iterator[Case]:
    """Closed visits to units that are as `truth` says, with advice from `advisor`."""
    draw = np.random.default_rng(seed)
    noise = worlds.noise_roots(truth)
    for number in range(count):
        closed = date.fromisoformat(first) + timedelta(days=number * days // count)
        yield _Visit(truth, advisor, draw, noise, policy).case(f"sim-{seed}-{number}", closed)


class _Visit:
    """One unit and what a technician does with it."""

    def __init__(
        self,
        truth: Model,
        advisor: Model,
        draw: np.random.Generator,
        noise: dict[str, np.ndarray],
        policy: Policy,
    ) -> None:
        self.truth, self.advisor, self.draw, self.policy = truth, advisor, draw, policy
        without = odds.base(truth).call_without_fault
        while True:  # until somebody calls; the network reads the shares of sites in the same way
            self.site = {
                name: str(draw.choice(list(c.values), p=[v.share.value for v in c.values.values()]))
                for name, c in truth.site.items()
            }
            faults = draw.random(len(truth.faults)) < list(odds.priors(truth, self.site).values())
            if faults.any() or draw.random() < without:
                break
        self.faults = faults
        self.noise = {
            name: np.int8(np.searchsorted(np.cumsum(p), draw.random())) for name, p in noise.items()
        }
        self.seen: list[Seen] = []
        self.events: list[Event] = []
        self.confirmed: list[Confirmed] = []

    def case(self, id: str, closed: date) -> Case:
        """The whole visit."""
        for name, value in self.site.items():
            if self.draw.random() < 0.8:
                self.events.append(SiteKnown(name, value))
        for name in self.truth.complaints:
            if self.outcome(name) == "said" and self.policy.complaints:
                self.events.append(Complained(name))
        self.look()
        end = "second_visit_needed"
        proven: tuple[str, ...] = ()
        for _ in range(2):
            repair, fault = self.best_repair()
            if repair is None:
                break
            if self.repair(repair, fault):
                end, proven = "proven", (repair,)
                break
        self.events.append(Ended(end, "", "", "", ()))
        model = ModelIs(self.advisor.about.id, "0", "0")
        steps = tuple(Step(event) for event in self.events)
        # Of a fault that was confirmed twice the surest way counts.
        ordered = sorted(self.confirmed, key=lambda one: one.sure)
        surest = tuple({one.fault: one for one in ordered}.values())
        day = closed.isoformat()
        return Case(
            id, day, day, model, steps, confirmed=surest, proven=proven,
            call_back="no", invented=True,
        )  # fmt: skip

    def states(self) -> dict[str, np.ndarray]:
        """The mechanisms as the unit is now."""
        return worlds.evaluate(self.truth, self.site, self.faults, self.noise)

    def outcome(self, name: str) -> str:
        """What an observation, a complaint or the proof shows now."""
        chances = worlds.outcome_chances(self.truth, name, self.site, self.faults, self.states())
        return str(self.draw.choice(graph.states_of(self.truth, name), p=chances / chances.sum()))

    def question(self) -> Question:
        """What is known, as the advisor is asked: all of it about the unit as it was found."""
        site = {e.condition: e.value for e in self.events if isinstance(e, SiteKnown)}
        said = tuple(e.complaint for e in self.events if isinstance(e, Complained))
        return Question(site, said, (), tuple(self.seen))

    def belief(self) -> Belief:
        found = believe(self.advisor, self.question())
        assert isinstance(found, Belief)
        return found

    def look(self) -> None:
        """Observations until a fault stands out."""
        made: set[str] = set()
        for _ in range(self.policy.at_most):
            belief = self.belief()
            if max(belief.faults.values()) > self.policy.stands_out:
                return
            open_ = [n for n in graph.observations(self.advisor) if n not in made]
            if self.draw.random() < self.policy.random:
                name = str(self.draw.choice(open_))
            else:
                name = max(open_, key=lambda n: telling(belief, n))
            made.add(name)
            outcome = self.outcome(name)
            states = graph.states_of(self.advisor, name)
            self.events.append(Saw(name, outcome))
            self.seen.append(Seen(0, name, tuple(float(s == outcome) for s in states)))

    def says_seen(self, fault: str) -> bool:
        """Whether a fault is said to be seen at its repair, rightly or wrongly: with the share that
        the advisor expects, and otherwise as often as makes such a word `SURE`."""
        if self.faults[list(self.truth.faults).index(fault)]:
            return bool(self.draw.random() < EYES)
        wrong, right = confirmation(self.advisor, fault, SURE)
        return bool(self.draw.random() < EYES * wrong / right)

    def best_repair(self) -> tuple[str | None, str]:
        """The likeliest fault that some repair clears, and that repair."""
        faults = self.belief().faults
        for fault in sorted(faults, key=lambda f: -faults[f]):
            able = [r for r, about in self.advisor.repairs.items() if fault in about.clears]
            done = {e.repair for e in self.events if isinstance(e, Done)}
            for repair in able:
                if repair not in done:
                    return repair, fault
        return None, ""

    def repair(self, repair: str, fault: str) -> bool:
        """Repair, look at what was there, prove."""
        names = list(self.truth.faults)
        seen = [name for name in self.truth.repairs[repair].clears if self.says_seen(name)]
        for name, chance in self.truth.repairs[repair].clears.items():
            if self.draw.random() < chance.value:
                self.faults[names.index(name)] = False
        for name, chance in self.truth.repairs[repair].harms.items():
            if self.draw.random() < chance.value:
                self.faults[names.index(name)] = True
        self.events.append(Done(repair))
        outcome = self.outcome(graph.PROOF)
        self.events.append(Saw(graph.PROOF, outcome))
        passed = outcome == "passed"
        self.confirmed.extend(Confirmed(name, "seen", SURE) for name in seen)
        if passed and fault not in seen:
            self.confirmed.append(Confirmed(fault, "repaired_and_proven", 0.9))
        elif not passed:
            # For the advisor the fault was not it; he has no epochs here.
            self.seen.append(Seen(0, fault, (1.0, 0.1)))
        return passed


def telling(belief: Belief, name: str) -> float:
    """Bits that an observation tells about each fault, added up."""
    outcomes, joint = belief.outcomes[name], belief.joint[name]
    faults = np.array(list(belief.faults.values()))
    total = 0.0
    for part, p in ((joint, faults), (outcomes[:, None] - joint, 1.0 - faults)):
        alone = np.outer(outcomes, p)
        fine = (part > 1e-12) & (alone > 0.0)
        total += float((part[fine] * np.log2(part[fine] / alone[fine])).sum())
    return total
