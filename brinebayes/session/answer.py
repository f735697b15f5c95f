"""What a typed line means at a prompt: events to record, and what to say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from brinebayes.errors import UsageError
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.names import suggest
from brinebayes.session.commands import Answer, Command, Nothing, Unknown, parse
from brinebayes.session.leaving import CALLED_BACK, Leaving, is_parked, possible_ends
from brinebayes.session.meanwhile import can_wait
from brinebayes.session.prompt import Prompt
from brinebayes.session.session import Said, Session, Turn, advice_of
from brinebayes.session.stage import Focus, Scene, service_setup
from brinebayes.session.words import complaint, pair, seen, word
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


def answer(session: Session, line: str, today: date) -> Turn:
    """What a line means at this prompt. `today` is only used to name a call-back date."""
    prompt = session.prompt
    try:
        match parse(line, prompt.options):
            case Command(name, rest):
                turn = _command(session, name, rest)
            case Answer(option) if prompt.kind != "leaving":
                turn = _answered(session, option)
            case Nothing():
                turn = _nothing(session)
            case found:
                said = found.line if isinstance(found, Unknown) else line
                hint = found.hint if isinstance(found, Unknown) else ""
                turn = _free(session, said, hint)
        if turn.focus.leaving is not None:
            turn = _left(session, turn, today)
        if turn.events:  # Whatever was typed, nothing is recorded that the model cannot take.
            fold(session.model, (*session.events, *turn.events))
        return turn
    except UsageError as error:
        return _stay(session, "refused", why=str(error))


def _stay(session: Session, what: str, **values: str) -> Turn:
    return Turn((), session.scene.focus, (Said(what, ReadOnly(values)),))


def _record(session: Session, *events: Event, said: tuple[Said, ...] = ()) -> Turn:
    """Events that leave the technician where the advice leads; what was in focus is done with."""
    return Turn(events, Focus(), said)


# --- the numbered answers ----------------------------------------------------------------------


def _answered(session: Session, option: str) -> Turn:
    prompt = session.prompt
    match prompt.kind:
        case "complaint":
            return _record(session, Complained(option))
        case "make_safe":
            return _record(session, Heeded(prompt.subject))
        case "site":
            return _record(session, SiteKnown(prompt.subject, option))
        case "setup":
            if option == "as_usual":
                return _record(session, arrived("", service_setup(session.scene)))
            return _record(session, Skipped(SETUP), said=(Said("worst_case"),))
        case "check" | "prove":
            return _record(session, *_way(session), Saw(prompt.observation, option))
        case "question":
            return _record(session, Saw(prompt.observation, option))
        case "repair" | "fetch":
            return _repair(session, option)
        case "finish":
            return _leave(session, Leaving())
        case "escalate" | "licensed":
            act = prompt.subject if prompt.kind == "licensed" else ""
            return _leave(session, Leaving(ESCALATED, act))
        case "choose":
            return Turn((), Focus(act=option))
        case "which_end":
            leaving = session.scene.focus.leaving or Leaving()
            return _leave(session, replace(leaving, end=option))
        case _:
            return _stay(session, "no_answer")


def _way(session: Session) -> tuple[Event, ...]:
    """That the route of the act on the screen was walked, and the brine brought back for it."""
    valued = session.prompt.valued
    if valued is None:
        return ()
    setup = named(session.model.setups, valued.act.end)
    way = arrived(valued.act.id, setup)
    return (Refilled(), way) if any(session.prompt.refill) else (way,)


def _repair(session: Session, option: str) -> Turn:
    prompt = session.prompt
    if option == "done":
        return _record(
            session,
            *_way(session),
            Done(prompt.subject),
            said=(Said("after_repair", ReadOnly({"repair": prompt.subject})),),
        )
    if option in ("could_not", "later"):
        return _record(session, CouldNot(prompt.subject))
    if option == "part_here":
        missing = session.state.parts_missing
        parts = session.model.repairs[prompt.subject].parts
        return _record(session, *(PartHere(part) for part in parts if part in missing))
    return _record(session, PartMissing(option.partition(":")[2]))


def _nothing(session: Session) -> Turn:
    """An empty line: where a question may be skipped it is; elsewhere nothing happens."""
    prompt = session.prompt
    match prompt.kind:
        case "complaint":
            return _record(session, Skipped(COMPLAINTS))
        case "site":
            return _record(session, Skipped(prompt.subject))
        case "setup":
            return _record(session, Skipped(SETUP), said=(Said("worst_case"),))
        case "question":
            return _record(session, Skipped(prompt.observation))
        case "choose":
            return Turn((), Focus())
        case "to_whom" | "call_back":
            return _free(session, prompt.text, "")
        case _:
            return _stay(session, "no_answer")


def _free(session: Session, line: str, hint: str) -> Turn:
    """A line that is no answer and no command, where a prompt takes words or figures."""
    prompt, leaving = session.prompt, session.scene.focus.leaving or Leaving()
    match prompt.kind:
        case "complaint":
            found = complaint(session.model, line)
            if found:
                return _record(session, Complained(found))
        case "to_whom":
            return _leave(session, replace(leaving, to=line))
        case "leaving":
            return _leave(session, replace(leaving, still_open=_open_items(prompt, line)))
        case "call_back":
            if line.isdecimal() and 1 <= int(line) <= MOST_DAYS:
                return _leave(session, replace(leaving, days=int(line)))
            return _stay(session, "days", most=str(MOST_DAYS))
        case _:
            pass
    return _stay(session, "unknown", line=line, hint=hint)


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


def _leave(session: Session, leaving: Leaving) -> Turn:
    return Turn((), replace(session.scene.focus, leaving=leaving))


def _left(session: Session, turn: Turn, today: date) -> Turn:
    """The turn with the end of the visit in it once everything about leaving is settled."""
    leaving = turn.focus.leaving
    assert leaving is not None
    scene = session.scene
    ends = possible_ends(session.state, scene.fired)
    end = leaving.end or (ends[0] if len(ends) == 1 else "")
    if not end or leaving.still_open is None or (end == ESCALATED and leaving.to is None):
        return turn
    if end in CALLED_BACK and leaving.days is None:
        return turn
    call_back = (today + timedelta(leaving.days)).isoformat() if leaving.days else ""
    ended = Ended(end, leaving.act, leaving.to or "", call_back, leaving.still_open)
    return Turn((*_way_out(scene, end, leaving.still_open), ended), Focus())


def _way_out(scene: Scene, end: str, still_open: tuple[str, ...]) -> tuple[Event, ...]:
    """How the unit was left, if the whole list was seen to; else nobody knows."""
    if scene.start is None or still_open:
        return ()
    parked = is_parked(end, scene.fired)
    route = scene.routes.parked(scene.start) if parked else scene.routes.service(scene.start)
    act = ESCALATE if end == ESCALATED else FINISH
    return (arrived(act, named(scene.model.setups, route.end)),)


# --- commands ----------------------------------------------------------------------------------


def _command(session: Session, name: str, rest: str) -> Turn:
    match name:
        case "why" | "think" | "help":
            return _stay(session, name)
        case "quit":
            return Turn((), session.scene.focus, (Said("saved"),), over=True)
        case "undo":
            return _undo(session)
        case "note":
            return _note(session, rest)
        case "show":
            return Turn((), session.scene.focus, show=True)
        case "back":
            return Turn((), Focus(), show=True)
    if session.prompt.kind == "closed":
        return _stay(session, "closed")
    match name:
        case "list":
            return Turn((), Focus(choosing=True))
        case "take":
            return _take(session, rest)
        case "finish":
            return _leave(session, Leaving())
        case "pass on":
            return _leave(session, Leaving(ESCALATED, to=rest or None))
        case "go":
            return _go(session)
        case "start" | "now":
            return _wait(session, name)
        case _:
            return _fact(session, name, rest)


def _fact(session: Session, name: str, rest: str) -> Turn:
    """Commands that record something; what they name is checked against the model by `fold`."""
    match name:
        case "saw" | "said":
            return _record(session, seen(session.model, rest))
        case "done":
            if not rest and session.prompt.kind == "repair":
                return _repair(session, "done")
            return _record(session, Done(word(rest, "done REPAIR")))
        case "setup":
            variable, value = pair(rest, "setup PART=STATE")
            return _record(session, SetupIs(variable, value))
        case "refilled":
            return _record(session, Refilled())
        case "could not":
            return _could_not(session)
        case "part missing" | "part here":
            part = word(rest or _only_part(session), f"{name} PART")
            return _record(session, PartMissing(part) if name.endswith("g") else PartHere(part))
        case _:
            raise AssertionError(name)


def _undo(session: Session) -> Turn:
    left = standing(session.events)
    taken = last_step(left)
    if not taken:
        return _stay(session, "nothing_to_undo")
    return _record(session, Undo(), said=(Said("taken_back", _named(left[taken[-1]])),))


def _named(event: Event) -> ReadOnly[str, str]:
    """An event in a few words, for the line that says it was taken back."""
    kind = next(word for word, each in KINDS.items() if each is type(event))
    values = [getattr(event, name) for name in type(event).__slots__]
    words = [value for value in values if isinstance(value, str) and value]
    return ReadOnly({"event": kind.replace("_", " "), "words": " = ".join(words)})


def _note(session: Session, text: str) -> Turn:
    if not text:
        return _stay(session, "refused", why="write it as: note TEXT")
    return Turn((Note(text),), session.scene.focus, (Said("noted"),))


def _take(session: Session, rest: str) -> Turn:
    """Another act than the advised one, by its number in the list or its id."""
    advice, trouble = advice_of(session)
    if advice is None:
        return _stay(session, "refused", why=trouble)
    ids = [item.act.id for item in advice.choice.ranked]
    held_back = dict(advice.held_back)
    if rest.isdecimal() and 1 <= int(rest) <= len(ids):
        return Turn((), Focus(act=ids[int(rest) - 1]))
    if rest in ids:
        return Turn((), Focus(act=rest))
    if rest in held_back:
        return _stay(session, "held_back", act=rest, why=held_back[rest])
    return _stay(session, "refused", why=f"there is no act '{rest}' open now{suggest(rest, ids)}")


def _go(session: Session) -> Turn:
    """Skip what is left of the first questions."""
    match session.prompt.kind:
        case "complaint":
            return _record(session, Skipped(COMPLAINTS))
        case "site":
            return _record(session, Skipped(SITE))
        case "setup":
            return _nothing(session)
        case _:
            return _stay(session, "no_answer")


def _wait(session: Session, name: str) -> Turn:
    """Begin the wait of the check on the screen, or end the wait of the one that runs."""
    prompt = session.prompt
    if name == "now":
        if not session.state.waiting:
            return _stay(session, "nothing_waits")
        return Turn((), Focus(look_now=True))
    if prompt.kind != "check" or not can_wait(session.model, prompt.subject):
        return _stay(session, "cannot_wait")
    if session.state.waiting:
        return _stay(session, "waits_already")
    return _record(session, *_way(session), Waiting(prompt.subject))


def _could_not(session: Session) -> Turn:
    prompt = session.prompt
    if prompt.kind in ("check", "repair", "fetch", "prove"):
        return _record(session, CouldNot(prompt.subject))
    if prompt.kind == "question":
        return _record(session, Skipped(prompt.observation))
    return _stay(session, "no_answer")


def _only_part(session: Session) -> str:
    """The part of the repair on the screen, if it needs just one."""
    if session.prompt.kind not in ("repair", "fetch"):
        return ""
    parts = session.model.repairs[session.prompt.subject].parts
    return parts[0] if len(parts) == 1 else ""
