"""Which prompt comes next. The order of a visit stands here and nowhere else:

what the customer says, make it safe, the place, how the unit stands; then act after act; then the
leave-taking. A question that was answered or skipped is not put again.
"""

from __future__ import annotations

from brinebayes.advice.acts import open_questions
from brinebayes.advice.advise import Advice
from brinebayes.advice.choose import Valued
from brinebayes.dialogue.leaving import (
    CALLED_BACK,
    Leaving,
    end_of,
    is_parked,
    leaving_list,
    possible_ends,
    takes_on,
)
from brinebayes.dialogue.meanwhile import can_wait, meanwhile
from brinebayes.dialogue.prompt import Kind, Option, Prompt
from brinebayes.errors import UnsafeRoute
from brinebayes.knowledge.rules import Fired
from brinebayes.knowledge.schema import Check, Model, Repair
from brinebayes.record import record
from brinebayes.setups.routes import Routes
from brinebayes.setups.states import State, named
from brinebayes.visit.brine import refill_time
from brinebayes.visit.ends import ESCALATED
from brinebayes.visit.state import (
    COMPLAINTS,
    ESCALATE,
    FINISH,
    PROOF,
    PROOF_OUTCOMES,
    SETUP,
    SITE,
    VisitState,
)

#: Days until a call-back where neither the shop nor the model says.
CALL_BACK_DAYS = 5


@record
class Focus:
    """What the technician has turned to; it belongs to the sitting and is not recorded.

    `act`: an act taken instead of the advised one. `choosing`: the list of acts is open.
    `parts`: setup variables still to be asked for. `look_now`: the wait of a running check is
    over. `leaving`: the leave-taking has begun.
    """

    act: str = ""
    parts: tuple[str, ...] = ()
    choosing: bool = False
    look_now: bool = False
    leaving: Leaving | None = None


@record
class Scene:
    """Everything that a prompt is made from. `advice` is None where it is not needed, or where
    `trouble` says why there is none. `start`: how the unit stands; None if that is not safe.
    """

    model: Model
    state: VisitState
    routes: Routes
    fired: tuple[Fired, ...]
    focus: Focus
    start: State | None
    advice: Advice | None = None
    trouble: str = ""


def first_questions(scene: Scene) -> Prompt | None:
    """What is asked before any advice, or None when all of it was asked."""
    model, state = scene.model, scene.state
    if scene.focus.parts:
        return _part(model, scene.focus.parts[0])
    more = state.complaints and (state.site or state.seen or state.done)
    if not state.was_asked(COMPLAINTS) and not more:
        left = [name for name in model.complaints if name not in state.complaints]
        if left:
            options = tuple(Option(name, model.complaints[name].name) for name in left)
            return Prompt("complaint", options=options)
    for item in scene.fired:
        if item.rule.kind == "make_safe" and item.rule_id not in state.heeded:
            return Prompt("make_safe", item.rule_id, (Option("seen_to"), Option("does_not_apply")))
    if not state.was_asked(SITE):
        for name, condition in model.site.items():
            if name not in state.site and not state.was_asked(name):
                options = tuple(Option(v, value.name) for v, value in condition.values.items())
                return Prompt("site", name, options)
    if state.walked is None and not state.was_asked(SETUP):
        options = (Option("as_usual"), Option("otherwise"))
        return Prompt("setup", options=options, variables=to_look_at(scene.routes))
    return None


def _part(model: Model, name: str) -> Prompt:
    """How one part of the unit stands; that nobody knows it is what an empty line says."""
    variable = model.setups.variables[name]
    acts: list[Check | Repair] = [*model.checks.values(), *model.repairs.values()]
    left = {move.leaves.get(name) for move in model.setups.moves.values()}
    left |= {act.leaves.get(name) for act in acts}
    options = tuple(
        Option(value, text)
        for value, text in variable.values.items()
        if value != variable.worst or value in left or value == variable.service
    )
    return Prompt("part", name, options)


def to_look_at(routes: Routes) -> tuple[str, ...]:
    """The parts of the unit that say how it stands; the others follow from these in service."""
    setup = named(routes.setups, routes.service_state)
    for name in tuple(setup)[::-1]:
        rest = {other: value for other, value in setup.items() if other != name}
        if all(_follows(routes, {**rest, name: v}) for v in routes.setups.variables[name].values):
            setup = rest
    return tuple(setup)


def _follows(routes: Routes, setup: dict[str, str]) -> bool:
    """Whether a setup can only be service: it is, nobody has looked, or it cannot be at all."""
    try:
        return routes.start(setup) == routes.service_state
    except UnsafeRoute:
        return True


def leave_taking(scene: Scene, leaving: Leaving, call_back_days: int | None) -> Prompt:
    """The next question of the leave-taking."""
    end = end_of(leaving, scene.state, scene.fired)
    if not end:
        ends = possible_ends(scene.state, scene.fired)
        return Prompt("which_end", options=tuple(Option(name) for name in ends))
    if end == ESCALATED and leaving.to is None:
        return Prompt("to_whom", leaving.act, text=takes_on(scene.fired))
    if leaving.still_open is None:
        options = tuple(Option(name) for name in leaving_list(end, scene.fired))
        parked = is_parked(end, scene.fired)
        route = None
        if scene.start is not None:
            way = scene.routes.parked if parked else scene.routes.service
            route = way(scene.start)
        return Prompt("leaving", end, options, route=route)
    days = call_back_days or days_of(scene.model)
    assert end in CALLED_BACK, end
    return Prompt("call_back", end, text=str(days))


def days_of(model: Model) -> int:
    """Days after which what can only be proven later has shown itself."""
    number = model.about.proof.later_days
    return CALL_BACK_DAYS if number is None else round(number.value)


def act_prompt(scene: Scene) -> Prompt:
    """The act to do now: the one taken from the list, what was begun, what fits, or the best."""
    model, state, focus, advice = scene.model, scene.state, scene.focus, scene.advice
    if advice is None:
        return Prompt("stuck", text=scene.trouble)
    ranked = advice.choice.ranked
    if focus.choosing:
        options = tuple(Option(item.act.id, item.act.name) for item in ranked)
        return Prompt("choose", options=options)
    if focus.act:
        taken = next((item for item in ranked if item.act.id == focus.act), None)
        if taken is not None:
            return _proposed(scene, taken)
    begun = state.waiting or (state.at if state.at in model.checks else "")
    if begun and not state.waiting and not _asked_some(scene, begun):
        begun = ""
    if state.waiting and not focus.look_now and scene.start is not None:
        fits = meanwhile(model, scene.routes, ranked, state.waiting, scene.start)
        if fits:
            return _proposed(scene, fits[0])
    left = (
        open_questions(model, state, scene.fired, begun)
        if begun and begun not in state.could_not
        else ()
    )
    if left:
        observation = model.checks[begun].observations[left[0]]
        options = tuple(Option(name, text) for name, text in observation.outcomes.items())
        return Prompt("question", begun, options, left[0])
    return _proposed(scene, advice.next)


def _asked_some(scene: Scene, check: str) -> bool:
    """Whether a question of the check has been answered or skipped since the last repair, or was
    answered with a number that was taken too early.
    """
    state, seen = scene.state, scene.state.seen_now()
    read = {item.reading.observation for item in state.readings if item.epoch == len(state.done)}
    return any(
        name in seen or name in read or state.was_skipped(name)
        for name in scene.model.checks[check].observations
    )


def _proposed(scene: Scene, valued: Valued) -> Prompt:
    model, act = scene.model, valued.act
    if act.kind == "check":
        return _check(scene, valued)
    kind: Kind = act.kind
    match act.kind:
        case "repair":
            options = _repair_options(scene, act.id)
        case "fetch":
            options = (Option("part_here"), Option("later"))
        case "prove":
            options = tuple(Option(name) for name in PROOF_OUTCOMES)
        case "finish":
            options = (Option("leave"),)
        case "escalate":
            kind = "licensed" if act.id in model.repairs else "escalate"
            options = (Option("pass_on"),)
    # The leave-taking shows the way, to service or to where the unit may wait.
    route = None if act.id in (FINISH, ESCALATE) else act.route
    observation = PROOF if act.kind == "prove" else ""
    return Prompt(kind, act.id, options, observation, valued, route, running=scene.state.waiting)


def _check(scene: Scene, valued: Valued) -> Prompt:
    model, act = scene.model, valued.act
    left = open_questions(model, scene.state, scene.fired, act.id)
    check = model.checks[act.id]
    name = left[0] if left else next(iter(check.observations))
    options = tuple(Option(o, text) for o, text in check.observations[name].outcomes.items())
    fits: tuple[Valued, ...] = ()
    if scene.advice is not None and not scene.state.waiting and can_wait(model, act.id):
        ranked = scene.advice.choice.ranked
        fits = meanwhile(model, scene.routes, ranked, act.id, act.end)
    return Prompt(
        "check",
        act.id,
        options,
        name,
        valued,
        act.route,
        refill_time(model, scene.state, act.id),
        scene.state.waiting,
        tuple(item.act.id for item in fits),
    )


def _repair_options(scene: Scene, repair: str) -> tuple[Option, ...]:
    parts = scene.model.repairs[repair].parts
    missing = tuple(
        Option(f"part_missing:{part}", scene.model.parts[part].name)
        for part in parts
        if part not in scene.state.parts_here
    )
    return (Option("done"), Option("could_not"), *missing)


def service_setup(scene: Scene) -> dict[str, str]:
    """Every part of the unit as it stands in service."""
    return named(scene.model.setups, scene.routes.service_state)
