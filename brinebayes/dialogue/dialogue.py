"""A visit at one moment, and how it moves on: a turn in, the next prompt out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace

from brinebayes.advice.advise import Advice, advise
from brinebayes.advice.situation import facts_of
from brinebayes.advice.standing import standing
from brinebayes.dialogue.prompt import Prompt
from brinebayes.dialogue.stage import Focus, Scene, act_prompt, first_questions, leave_taking
from brinebayes.errors import BrinebayesError, UnsafeRoute
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.rules import Fired, fired
from brinebayes.knowledge.schema import CheckedModel, Model
from brinebayes.knowledge.shop import Shop
from brinebayes.record import record
from brinebayes.setups.routes import tabulate
from brinebayes.setups.states import State
from brinebayes.visit.events import Event
from brinebayes.visit.state import NumberRead, VisitState, fold


@record
class Said:
    """Something to tell the technician: the name of its template and what fills it."""

    what: str
    values: Mapping[str, str] = ReadOnly({})


@record
class Turn:
    """What a line led to: events to put on the disk, then the focus and what to say.

    `show`: the screen is wanted again although nothing changed. `over`: the sitting ends here.
    """

    events: tuple[Event, ...] = ()
    focus: Focus = field(default_factory=Focus)
    said: tuple[Said, ...] = ()
    show: bool = False
    over: bool = False


@record
class Advised:
    """The advice for a state of the visit, or what stands in its way; kept as long as it holds."""

    state: VisitState
    advice: Advice | None
    trouble: str = ""


@record
class Dialogue:
    """A visit at one moment. `events` are all of its file.

    `fresh`: the rules not told before; `read`: the numbers read in the last turn; `advised`: the
    last advice that was worked out; `clash`: whether it finds that answers fit together badly, and
    did not before.
    """

    checked: CheckedModel
    shop: Shop
    events: tuple[Event, ...]
    state: VisitState
    scene: Scene
    prompt: Prompt
    fresh: tuple[Fired, ...]
    told: frozenset[str]
    advised: Advised | None
    read: tuple[NumberRead, ...] = ()
    clash: bool = False

    @property
    def model(self) -> Model:
        """The model that the visit is held against."""
        return self.checked.model


def open_dialogue(checked: CheckedModel, events: tuple[Event, ...], shop: Shop) -> Dialogue:
    """A dialogue from the events of a file. Raises UsageError if one names what the model lacks."""
    return _dialogue(checked, shop, events, Focus(), frozenset(), None)


def proceed(dialogue: Dialogue, turn: Turn) -> Dialogue:
    """The dialogue after a turn, with its new prompt; the events are taken as recorded."""
    if not turn.events and turn.focus == dialogue.scene.focus:
        return replace(dialogue, fresh=(), read=(), clash=False)
    events = (*dialogue.events, *turn.events)
    told, advised = dialogue.told, dialogue.advised
    after = _dialogue(dialogue.checked, dialogue.shop, events, turn.focus, told, advised)
    read = after.state.readings[len(dialogue.state.readings) :]
    clash = _clash(after.advised)
    return replace(after, read=read, clash=any(clash) and clash != _clash(dialogue.advised))


def _clash(advised: Advised | None) -> tuple[str, str]:
    """The observation under suspicion and the rare fault that would explain it; empty if none."""
    if advised is None or advised.advice is None or advised.advice.contradiction is None:
        return ("", "")
    found = advised.advice.contradiction
    suspect = found.suspects[0][0] if found.suspects else ""
    return (suspect, found.rare_fault or "")


def advice_of(dialogue: Dialogue) -> tuple[Advice | None, str]:
    """The advice at this point, or None and what stands in its way."""
    found = _advised(dialogue.checked, dialogue.state, dialogue.advised)
    return found.advice, found.trouble


def advised_act(dialogue: Dialogue) -> str:
    """The act that stood first in the last advice, if that is of this state; else empty."""
    found = dialogue.advised
    if found is None or found.advice is None or found.state != _bearing(dialogue.state):
        return ""
    return found.advice.next.act.id


def _dialogue(
    checked: CheckedModel,
    shop: Shop,
    events: tuple[Event, ...],
    focus: Focus,
    told: frozenset[str],
    advised: Advised | None,
) -> Dialogue:
    model = checked.model
    state = fold(model, events)
    rules = fired(model, facts_of(model, state))
    scene = Scene(model, state, tabulate(model), rules, focus, _start(model, state))
    prompt = _prompt_without_advice(scene, shop)
    if prompt is None:
        advised = _advised(checked, state, advised)
        scene = replace(scene, advice=advised.advice, trouble=advised.trouble)
        prompt = act_prompt(scene)
    fresh = tuple(item for item in rules if item.rule_id not in told)
    known = told | {item.rule_id for item in rules}
    return Dialogue(checked, shop, events, state, scene, prompt, fresh, known, advised)


def _prompt_without_advice(scene: Scene, shop: Shop) -> Prompt | None:
    """The prompt, where it depends on no advice."""
    if scene.state.ended is not None:
        return Prompt("closed", scene.state.ended.end)
    if scene.focus.leaving is not None:
        return leave_taking(scene, scene.focus.leaving, shop.call_back_days)
    if scene.focus.act or scene.focus.choosing:
        return None
    return first_questions(scene)


def _advised(checked: CheckedModel, state: VisitState, kept: Advised | None) -> Advised:
    """The advice for a state; the last one where nothing has changed that it depends on."""
    key = _bearing(state)
    if kept is not None and kept.state == key:
        return kept
    try:
        return Advised(key, advise(checked, state))
    except BrinebayesError as error:
        return Advised(key, None, str(error))


def _bearing(state: VisitState) -> VisitState:
    """A state without what no advice depends on."""
    return replace(state, notes=(), heeded=frozenset(), found=ReadOnly({}), ended=None)


def _start(model: Model, state: VisitState) -> State | None:
    try:
        return standing(model, tabulate(model), state)
    except UnsafeRoute:
        return None
