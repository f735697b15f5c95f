"""What a typed line means at a prompt: events to record, and what to say."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta

from brinebayes.dialogue.commands import Answer, Command, Nothing, Unknown, parse
from brinebayes.dialogue.dialogue import Dialogue, Said, Turn, advice_of
from brinebayes.dialogue.leaving import CALLED_BACK, Leaving, end_of, is_parked
from brinebayes.dialogue.meanwhile import can_wait
from brinebayes.dialogue.prompt import Prompt
from brinebayes.dialogue.stage import Focus, Scene, service_setup
from brinebayes.dialogue.words import complaint, found, is_number, meant, pair, seen, word
from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import suggest
from brinebayes.setups.states import named
from brinebayes.visit.ends import ESCALATED
from brinebayes.visit.events import (
    KINDS,
    Complained,
    CouldNot,
    Done,
    Ended,
    Event,
    Heeded,
    Note,
    PartHere,
    PartMissing,
    Read,
    Refilled,
    Saw,
    SetupIs,
    SiteKnown,
    Skipped,
    Undo,
    Waiting,
    arrived,
    last_step,
    standing,
)
from brinebayes.visit.state import COMPLAINTS, ESCALATE, FINISH, SETUP, SITE, fold

#: A call-back further away than this is a slip of the finger.
MOST_DAYS = 365


# --- a line ------------------------------------------------------------------------------------


def answer(dialogue: Dialogue, line: str, today: date) -> Turn:
    """What a line means at this prompt. `today` is only used to name a call-back date."""
    prompt = dialogue.prompt
    try:
        match parse(line, prompt.options):
            case Command(name, rest):
                turn = _command(dialogue, name, rest)
            case Answer(option) if prompt.kind != "leaving":
                turn = _answered(dialogue, option)
            case Nothing():
                turn = _nothing(dialogue)
            case found:
                said = found.line if isinstance(found, Unknown) else line
                hint = found.hint if isinstance(found, Unknown) else ""
                turn = _free(dialogue, said, hint)
        if turn.focus.leaving is not None:
            turn = _left(dialogue, turn, today)
        if turn.events:  # Whatever was typed, nothing is recorded that the model cannot take.
            fold(dialogue.model, (*dialogue.events, *turn.events))
        return turn
    except UsageError as error:
        return _stay(dialogue, "refused", why=str(error))


def _stay(dialogue: Dialogue, what: str, **values: str) -> Turn:
    return Turn((), dialogue.scene.focus, (Said(what, ReadOnly(values)),))


def _record(dialogue: Dialogue, *events: Event, said: tuple[Said, ...] = ()) -> Turn:
    """Events that leave the technician where the advice leads; what was in focus is done with."""
    return Turn(events, Focus(), said)


# --- the numbered answers ----------------------------------------------------------------------


def _answered(dialogue: Dialogue, option: str) -> Turn:
    prompt = dialogue.prompt
    match prompt.kind:
        case "complaint":
            return _record(dialogue, Complained(option))
        case "make_safe":
            return _record(dialogue, Heeded(prompt.subject))
        case "site":
            return _record(dialogue, SiteKnown(prompt.subject, option))
        case "setup":
            if option == "as_usual":
                return _record(dialogue, arrived("", service_setup(dialogue.scene)))
            return Turn((), Focus(parts=prompt.variables))
        case "part":
            return _next_part(dialogue, (SetupIs(prompt.subject, option),))
        case "check" | "prove":
            return _record(dialogue, *_way(dialogue), Saw(prompt.observation, option))
        case "question":
            return _record(dialogue, Saw(prompt.observation, option))
        case "repair" | "fetch":
            return _repair(dialogue, option)
        case "finish":
            return _leave(dialogue, Leaving())
        case "escalate" | "licensed":
            act = prompt.subject if prompt.kind == "licensed" else ""
            return _leave(dialogue, Leaving(ESCALATED, act))
        case "choose":
            return Turn((), Focus(act=option))
        case "which_end":
            leaving = dialogue.scene.focus.leaving or Leaving()
            return _leave(dialogue, replace(leaving, end=option))
        case _:
            return _stay(dialogue, "no_answer")


def _next_part(dialogue: Dialogue, events: tuple[Event, ...]) -> Turn:
    """On to the next part of the unit; when none was known, the question is not put again."""
    parts = dialogue.scene.focus.parts[1:]
    if not parts and not events and not dialogue.state.setup:
        return _record(dialogue, Skipped(SETUP), said=(Said("worst_case"),))
    return Turn(events, Focus(parts=parts))


def _way(dialogue: Dialogue) -> tuple[Event, ...]:
    """That the route of the act on the screen was walked, and the brine brought back for it."""
    valued = dialogue.prompt.valued
    if valued is None:
        return ()
    setup = named(dialogue.model.setups, valued.act.end)
    way = arrived(valued.act.id, setup)
    return (Refilled(), way) if any(dialogue.prompt.refill) else (way,)


def _repair(dialogue: Dialogue, option: str) -> Turn:
    prompt = dialogue.prompt
    if option == "done":
        return _record(
            dialogue,
            *_way(dialogue),
            Done(prompt.subject),
            said=(Said("after_repair", ReadOnly({"repair": prompt.subject})),),
        )
    if option in ("could_not", "later"):
        return _record(dialogue, CouldNot(prompt.subject))
    if option == "part_here":
        missing = dialogue.state.parts_missing
        parts = dialogue.model.repairs[prompt.subject].parts
        return _record(dialogue, *(PartHere(part) for part in parts if part in missing))
    return _record(dialogue, PartMissing(option.partition(":")[2]))


def _nothing(dialogue: Dialogue) -> Turn:
    """An empty line: where a question may be skipped it is; elsewhere nothing happens."""
    prompt = dialogue.prompt
    match prompt.kind:
        case "complaint":
            return _record(dialogue, Skipped(COMPLAINTS))
        case "site":
            return _record(dialogue, Skipped(prompt.subject))
        case "setup":
            return _record(dialogue, Skipped(SETUP), said=(Said("worst_case"),))
        case "part":
            return _next_part(dialogue, ())
        case "question":
            return _record(dialogue, Skipped(prompt.observation))
        case "choose":
            return Turn((), Focus())
        case "to_whom" | "call_back":
            return _free(dialogue, prompt.text, "")
        case _:
            return _stay(dialogue, "no_answer")


def _free(dialogue: Dialogue, line: str, hint: str) -> Turn:
    """A line that is no answer and no command, where a prompt takes words or figures."""
    prompt, leaving = dialogue.prompt, dialogue.scene.focus.leaving or Leaving()
    match prompt.kind:
        case "complaint":
            found = complaint(dialogue.model, line)
            if found:
                return _record(dialogue, Complained(found))
            hint = meant(dialogue.model, line) or hint
        case "check" | "question" if is_number(line) and _reads(dialogue):
            way = _way(dialogue) if prompt.kind == "check" else ()
            return _record(dialogue, *way, Read(prompt.observation, line))
        case "to_whom":
            return _leave(dialogue, replace(leaving, to=line))
        case "leaving":
            return _leave(dialogue, replace(leaving, still_open=_open_items(prompt, line)))
        case "call_back":
            if line.isdecimal() and 1 <= int(line) <= MOST_DAYS:
                return _leave(dialogue, replace(leaving, days=int(line)))
            return _stay(dialogue, "days", most=str(MOST_DAYS))
        case _:
            pass
    return _stay(dialogue, "unknown", line=line, hint=hint)


def _reads(dialogue: Dialogue) -> bool:
    """Whether the question on the screen may be answered with a number."""
    check = dialogue.model.checks[dialogue.prompt.subject]
    return check.observations[dialogue.prompt.observation].reading is not None


def _open_items(prompt: Prompt, line: str) -> tuple[str, ...]:
    """What of the list is not so: `ok` for nothing, else numbers. Raises UsageError."""
    if line.casefold() == "ok":
        return ()
    numbers = line.replace(",", " ").split()
    count = len(prompt.options)
    if not all(word.isdecimal() and 1 <= int(word) <= count for word in numbers):
        raise UsageError(f"type ok, or the numbers (1 to {count}) of what is not so")
    return tuple(prompt.options[n - 1].id for n in sorted({int(word) for word in numbers}))


# --- leaving -----------------------------------------------------------------------------------


def _leave(dialogue: Dialogue, leaving: Leaving) -> Turn:
    return Turn((), replace(dialogue.scene.focus, leaving=leaving))


def _left(dialogue: Dialogue, turn: Turn, today: date) -> Turn:
    """The turn with the end of the visit in it once everything about leaving is settled."""
    leaving = turn.focus.leaving
    assert leaving is not None
    scene = dialogue.scene
    end = end_of(leaving, dialogue.state, scene.fired)
    if not end or leaving.still_open is None or (end == ESCALATED and leaving.to is None):
        return turn
    if end in CALLED_BACK and leaving.days is None:
        return turn
    call_back = (today + timedelta(leaving.days)).isoformat() if leaving.days else ""
    ended = Ended(end, leaving.act, leaving.to or "", call_back, leaving.still_open)
    said = (*turn.said, Said("ended", ReadOnly({"end": end})))
    return Turn((*_way_out(scene, end, leaving.still_open), ended), Focus(), said)


def _way_out(scene: Scene, end: str, still_open: tuple[str, ...]) -> tuple[Event, ...]:
    """How the unit was left, if the whole list was seen to; else nobody knows."""
    if scene.start is None or still_open:
        return ()
    parked = is_parked(end, scene.fired)
    route = scene.routes.parked(scene.start) if parked else scene.routes.service(scene.start)
    act = ESCALATE if end == ESCALATED else FINISH
    return (arrived(act, named(scene.model.setups, route.end)),)


# --- commands ----------------------------------------------------------------------------------


def _command(dialogue: Dialogue, name: str, rest: str) -> Turn:
    match name:
        case "why" | "think" | "help":
            return _stay(dialogue, name)
        case "quit":
            return Turn((), dialogue.scene.focus, (Said("saved"),), over=True)
        case "undo":
            return _undo(dialogue)
        case "note":
            return _note(dialogue, rest)
        case "found" if dialogue.prompt.kind != "closed":
            event = found(dialogue.model, rest)
            return Turn((event,), dialogue.scene.focus, (Said("noted"),))
        case "show":
            return Turn((), dialogue.scene.focus, show=True)
        case "back":
            return Turn((), Focus(), show=True)
    if dialogue.prompt.kind == "closed":
        return _stay(dialogue, "closed")
    match name:
        case "list":
            return Turn((), Focus(choosing=True))
        case "take":
            return _take(dialogue, rest)
        case "finish":
            return _leave(dialogue, Leaving())
        case "pass on":
            return _leave(dialogue, Leaving(ESCALATED, to=rest or None))
        case "go":
            return _go(dialogue)
        case "start" | "now":
            return _wait(dialogue, name)
        case _:
            return _fact(dialogue, name, rest)


def _fact(dialogue: Dialogue, name: str, rest: str) -> Turn:
    """Commands that record something; what they name is checked against the model by `fold`."""
    match name:
        case "saw" | "said":
            return _record(dialogue, seen(dialogue.model, rest))
        case "done":
            if not rest and dialogue.prompt.kind == "repair":
                return _repair(dialogue, "done")
            return _record(dialogue, Done(word(rest, "done REPAIR")))
        case "setup":
            variable, value = pair(rest, "setup PART=STATE")
            return _record(dialogue, SetupIs(variable, value))
        case "refilled":
            return _record(dialogue, Refilled())
        case "could not":
            return _could_not(dialogue)
        case "part missing" | "part here":
            part = word(rest or _only_part(dialogue), f"{name} PART")
            return _record(dialogue, PartMissing(part) if name.endswith("g") else PartHere(part))
        case _:
            raise AssertionError(name)


def _undo(dialogue: Dialogue) -> Turn:
    left = standing(dialogue.events)
    taken = last_step(left)
    if not taken:
        return _stay(dialogue, "nothing_to_undo")
    return _record(dialogue, Undo(), said=(Said("taken_back", _named(left[taken[-1]])),))


def _named(event: Event) -> ReadOnly[str, str]:
    """An event by its kind and words, for the line that says it was taken back."""
    kind = next(word for word, each in KINDS.items() if each is type(event))
    values = [getattr(event, each.name) for each in fields(event)]
    words = [value for value in values if isinstance(value, str) and value]
    return ReadOnly({"event": kind, "words": " = ".join(words)})


def _note(dialogue: Dialogue, text: str) -> Turn:
    if not text:
        return _stay(dialogue, "refused", why="write it as: note TEXT")
    return Turn((Note(text),), dialogue.scene.focus, (Said("noted"),))


def _take(dialogue: Dialogue, rest: str) -> Turn:
    """Another act than the advised one, by its number in the list or its id."""
    advice, trouble = advice_of(dialogue)
    if advice is None:
        return _stay(dialogue, "refused", why=trouble)
    ids = [item.act.id for item in advice.choice.ranked]
    held_back = dict(advice.held_back)
    if rest.isdecimal() and 1 <= int(rest) <= len(ids):
        return Turn((), Focus(act=ids[int(rest) - 1]))
    if rest in ids:
        return Turn((), Focus(act=rest))
    if rest in held_back:
        return _stay(dialogue, "held_back", act=rest, why=held_back[rest])
    return _stay(dialogue, "refused", why=f"there is no act '{rest}' open now{suggest(rest, ids)}")


def _go(dialogue: Dialogue) -> Turn:
    """Skip what is left of the first questions."""
    match dialogue.prompt.kind:
        case "complaint":
            return _record(dialogue, Skipped(COMPLAINTS))
        case "site":
            return _record(dialogue, Skipped(SITE))
        case "setup":
            return _nothing(dialogue)
        case "part":
            return Turn((), Focus()) if dialogue.state.setup else _record(dialogue, Skipped(SETUP))
        case _:
            return _stay(dialogue, "no_answer")


def _wait(dialogue: Dialogue, name: str) -> Turn:
    """Begin the wait of the check on the screen, or end the wait of the one that runs."""
    prompt = dialogue.prompt
    if name == "now":
        if not dialogue.state.waiting:
            return _stay(dialogue, "nothing_waits")
        return Turn((), Focus(look_now=True))
    if prompt.kind != "check" or not can_wait(dialogue.model, prompt.subject):
        return _stay(dialogue, "cannot_wait")
    if dialogue.state.waiting:
        return _stay(dialogue, "waits_already")
    return _record(dialogue, *_way(dialogue), Waiting(prompt.subject))


def _could_not(dialogue: Dialogue) -> Turn:
    prompt = dialogue.prompt
    if prompt.kind in ("check", "repair", "fetch", "prove"):
        return _record(dialogue, CouldNot(prompt.subject))
    if prompt.kind == "question":
        return _record(dialogue, Skipped(prompt.observation))
    return _stay(dialogue, "no_answer")


def _only_part(dialogue: Dialogue) -> str:
    """The part of the repair on the screen, if it needs just one."""
    if dialogue.prompt.kind not in ("repair", "fetch"):
        return ""
    parts = dialogue.model.repairs[dialogue.prompt.subject].parts
    return parts[0] if len(parts) == 1 else ""
