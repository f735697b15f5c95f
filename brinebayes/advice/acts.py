"""What can be done next: the acts that the visit and the rules leave open, with their price."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge import rules
from brinebayes.knowledge.rules import Facts, Fired
from brinebayes.knowledge.schema import Check, Condition, Model, Repair
from brinebayes.record import record
from brinebayes.setups.routes import Route, Routes
from brinebayes.setups.states import State, allowed
from brinebayes.visit.brine import draws_left, refill
from brinebayes.visit.state import PROOF, VisitState

ActKind = Literal["check", "repair", "prove", "fetch", "finish", "escalate"]

#: A repair is tried at most this often in one visit.
TRIES = 2


@record
class Act:
    """One thing to do next, with its route from the present setup and its direct cost.

    `minutes` of attention, `waiting_minutes` and `cost` (model currency) include the route;
    `own_cautions` do not. `end` is the setup afterwards.
    """

    kind: ActKind
    id: str
    name: str
    how: str
    route: Route
    minutes: float
    waiting_minutes: float
    cost: float
    own_cautions: tuple[str, ...]
    end: State

    @property
    def cautions(self) -> tuple[str, ...]:
        """Every caution of the way and of the work, each once, where it first matters."""
        return tuple(dict.fromkeys((*self.route.cautions, *self.own_cautions)))


@record
class Held:
    """An act that a rule holds back until some observations are made.

    `lasting`: whether the rule would still hold after a repair, when nothing counts as seen.
    `after`: repairs of which one must come first; empty: it holds now.
    """

    act: str
    until: tuple[str, ...]
    lasting: bool
    after: tuple[str, ...] = ()


def open_acts(
    model: Model, state: VisitState, routes: Routes, start: State, fired: tuple[Fired, ...]
) -> tuple[Act, ...]:
    """Every act open now, in the order of the model files; finish and escalate always are."""
    blocked = blocked_by(state, fired)
    seen = state.seen_now()
    acts: list[Act] = []
    brine = draws_left(model, state)

    def reach(needs: Condition) -> Iterator[Route]:
        """The safe route to a setup, or nothing where there is none."""
        try:
            yield routes.way(start, needs)
        except UnsafeRoute:
            return

    for check_id, check in model.checks.items():
        unseen = open_questions(model, state, fired, check_id)
        if unseen and check.who != "licensed" and _open(check_id, check, state, blocked):
            acts += (_check(model, check_id, route, routes, brine) for route in reach(check.needs))
    for repair_id, repair in model.repairs.items():
        if state.done.count(repair_id) < TRIES and _open(repair_id, repair, state, blocked):
            acts += (
                repair_act(model, repair_id, route, routes, state) for route in reach(repair.needs)
            )
    if state.done and PROOF not in seen and PROOF not in state.could_not:
        acts += (_proof(model, route, routes) for route in reach(model.about.proof.needs))
    acts.append(_finish(model, state, routes.service(start)))
    acts.append(_escalate(model, routes.parked(start)))
    return tuple(acts)


def open_questions(
    model: Model, state: VisitState, fired: tuple[Fired, ...], check: str
) -> tuple[str, ...]:
    """The observations of a check that have not been made, or are doubted and not repeated."""
    seen, doubts = state.seen_now(), doubted(fired)
    return tuple(
        name
        for name in model.checks[check].observations
        if not state.was_skipped(name)
        and (name not in seen or (name in doubts and state.times_seen(name) == 1))
    )


def blocked_by(state: VisitState, fired: tuple[Fired, ...]) -> dict[str, str]:
    """Act -> the reason of the rule that removes it, or holds it back until something is seen."""
    seen = state.still_known()
    blocked: dict[str, str] = {}
    for item in fired:
        rule = item.rule
        held = rule.kind == "first" and any(name not in seen for name in rule.until)
        if rule.kind in ("excludes", "settles") or held:
            for act in rule.acts:
                blocked.setdefault(act, rule.reason)
    return blocked


def held_by(state: VisitState, fired: tuple[Fired, ...]) -> tuple[Held, ...]:
    """The acts that are only held back; what a rule removes altogether is not among them."""
    seen = state.still_known()
    gone = {
        act for item in fired if item.rule.kind in ("excludes", "settles") for act in item.rule.acts
    }
    return tuple(
        Held(act, item.rule.until, not item.rule.when.saw)
        for item in fired
        if item.rule.kind == "first" and any(name not in seen for name in item.rule.until)
        for act in item.rule.acts
        if act not in gone
    )


def held_later(model: Model, state: VisitState) -> tuple[Held, ...]:
    """The acts that some repair, once it is made, holds back until something is seen anew."""
    repairs = tuple(model.repairs)
    every = Facts(state.site, state.complaints, {}, state.clear_ever(), repairs)
    found: list[Held] = []
    for item in rules.fired(model, every):
        rule = item.rule
        if rule.kind == "first" and rule.when.done:
            after = repairs if set(rule.when.done) & set(state.done) else rule.when.done
            found += [Held(act, rule.until, True, after) for act in rule.acts]
    return tuple(found)


def could_be_made(model: Model, state: VisitState, act: str) -> bool:
    """Whether a check or repair is ours to make on this site at all, whatever the rules say."""
    item = model.checks[act] if act in model.checks else model.repairs[act]
    return item.who != "licensed" and _open(act, item, state, {})


def price_of_check(model: Model, check: str) -> float:
    """What a check costs without its route and without a refill of brine before it."""
    item, money = model.checks[check], model.about.money
    price = item.minutes.value * money.attention_per_minute.value
    return price + item.waiting_minutes.value * money.waiting_per_minute.value


def price_of_repair(model: Model, state: VisitState, repair: str) -> float:
    """What a repair costs without its route: minutes, parts, and fetching what is not here."""
    money = model.about.money
    parts = _parts(model, state, repair)
    return model.repairs[repair].minutes.value * money.attention_per_minute.value + parts


def doubted(fired: tuple[Fired, ...]) -> frozenset[str]:
    """Observations that a rule challenges."""
    return frozenset(
        name for item in fired if item.rule.kind == "doubts" for name in item.rule.acts
    )


def _open(act: str, item: Check | Repair, state: VisitState, blocked: Mapping[str, str]) -> bool:
    if act in blocked or act in state.could_not:
        return False
    return all(
        name not in state.site or state.site[name] in allowed(accepted)
        for name, accepted in item.applies.items()
    )


def _check(model: Model, act_id: str, route: Route, routes: Routes, brine: float) -> Act:
    check = model.checks[act_id]
    work, saturation = refill(model, brine, act_id)
    return _act(
        model,
        "check",
        act_id,
        check.name,
        route,
        routes.after(route.end, check.leaves),
        how=check.how,
        minutes=check.minutes.value + work,
        waiting=check.waiting_minutes.value + saturation,
        cautions=check.cautions,
    )


def repair_act(model: Model, act_id: str, route: Route, routes: Routes, state: VisitState) -> Act:
    repair = model.repairs[act_id]
    missing = [part for part in repair.parts if part in state.parts_missing]
    extra = _parts(model, state, act_id)
    kind: ActKind = "fetch" if missing else "repair"
    name = repair.name
    if missing:
        name = f"Fetch {', '.join(model.parts[part].name.lower() for part in missing)} for: {name}"
    if repair.who == "licensed":
        kind = "escalate"
        extra += model.about.money.escalation.value
    return _act(
        model,
        kind,
        act_id,
        name,
        route,
        routes.after(route.end, repair.leaves),
        how=repair.how,
        minutes=repair.minutes.value,
        extra=extra,
        cautions=repair.cautions,
    )


def _parts(model: Model, state: VisitState, repair: str) -> float:
    """Price of the parts of a repair, and of fetching those that may not be here."""
    parts = model.repairs[repair].parts
    at_hand = 1.0
    for part in parts:
        if part not in state.parts_here:
            at_hand *= 0.0 if part in state.parts_missing else model.parts[part].in_van.value
    price = sum(model.parts[part].price.value for part in parts)
    return price + (1.0 - at_hand) * model.about.money.fetch_part.value


def _proof(model: Model, route: Route, routes: Routes) -> Act:
    proof = model.about.proof
    return _act(
        model,
        "prove",
        PROOF,
        proof.name,
        route,
        routes.after(route.end, proof.leaves),
        how=proof.how,
        minutes=proof.minutes.value,
        waiting=proof.waiting_minutes.value,
        cautions=proof.cautions,
    )


def _finish(model: Model, state: VisitState, route: Route) -> Act:
    pending = bool(state.done) and state.seen_now().get(PROOF) != "passed"
    name = "Finish: repaired, proof pending" if pending else "Finish the visit"
    return _act(model, "finish", "finish", name, route, route.end)


def _escalate(model: Model, route: Route) -> Act:
    name = "Leave the unit safe and pass the case on"
    extra = model.about.money.escalation.value
    return _act(model, "escalate", "escalate", name, route, route.end, extra=extra)


def _act(
    model: Model,
    kind: ActKind,
    act_id: str,
    name: str,
    route: Route,
    end: State,
    *,
    how: str = "",
    minutes: float = 0.0,
    waiting: float = 0.0,
    extra: float = 0.0,
    cautions: tuple[str, ...] = (),
) -> Act:
    """An act with the route's minutes and their price added to its own."""
    minutes += route.minutes
    waiting += route.waiting_minutes
    money = model.about.money
    time = minutes * money.attention_per_minute.value + waiting * money.waiting_per_minute.value
    return Act(kind, act_id, name, how, route, minutes, waiting, extra + time, cautions, end)
