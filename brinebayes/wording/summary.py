"""What was done on a visit: for the customer in plain words, for the office in full."""

from __future__ import annotations

from brinebayes.advice.situation import facts_of
from brinebayes.dialogue.dialogue import Dialogue, advice_of
from brinebayes.dialogue.leaving import is_parked
from brinebayes.knowledge.rules import Facts, Fired, fired
from brinebayes.knowledge.schema import Model
from brinebayes.visit.ends import PENDING, PROVEN
from brinebayes.visit.record import Record
from brinebayes.visit.state import PROOF, VisitState
from brinebayes.wording.fill import fill, money, share, templates
from brinebayes.wording.lines import wrapped
from brinebayes.wording.screen import observation_name, outcome_text, part_name, words

#: Faults named in the office's record.
FAULTS = 3


# --- for the customer --------------------------------------------------------------------------


def customer(dialogue: Dialogue) -> str:
    """A note for the customer: no ids, no figures of belief, no prices."""
    model, state, told = dialogue.model, dialogue.state, words()["customer"]
    ended = state.ended
    lines = [told["title"], ""]
    if state.complaints:
        said = "; ".join(model.complaints[name].name.lower() for name in state.complaints)
        lines += wrapped("", fill(told["said"], {"text": said}))
    if ended is None:
        lines += wrapped("", told["open"])
    else:
        key = ended.end
        if key == "escalated" and not ended.to:
            key = "escalated_nobody"
        lines += wrapped("", fill(told[key], {"to": ended.to}))
        if is_parked(ended.end, _fired(dialogue)):
            lines += wrapped("", told["bypassed"])
    lines += _section(told["did"], _did(model, state) or [told["nothing_done"]])
    lines += _section(told["watch"], _watch(dialogue))
    lines += _section(told["report"], [item.rule.reason for item in _of_kind(dialogue, "duty")])
    lines += ["", *wrapped("", told["care"])]
    return "\n".join(lines) + "\n"


def _did(model: Model, state: VisitState) -> list[str]:
    return [model.repairs[name].name for name in dict.fromkeys(state.done)]


def _watch(dialogue: Dialogue) -> list[str]:
    """What only the next days can show, and when somebody will ask for it."""
    model, state = dialogue.model, dialogue.state
    ended = state.ended
    if ended is None:
        return []
    found: list[str] = []
    if ended.end in (PROVEN, PENDING):
        later = [model.repairs[name].proven_later for name in dict.fromkeys(state.done)]
        found += [text for text in later if text]
    if ended.end == PENDING and model.about.proof.later:
        found.append(model.about.proof.later)
    if not state.done:
        found += [item.rule.reason for item in _of_kind(dialogue, "outside")]
    if ended.call_back:
        found.append(fill(words()["customer"]["call_back"], {"date": ended.call_back}))
    return found


# --- for the office ----------------------------------------------------------------------------


def office(dialogue: Dialogue, record: Record) -> str:
    """The whole visit on paper: what was known, seen, done, used, and what is pending."""
    model, state, told = dialogue.model, dialogue.state, words()["office"]
    head = [told["title"], *_head(dialogue, record)]
    left = state.ended.still_open if state.ended else ()
    sections = {
        "said": [model.complaints[name].name for name in state.complaints],
        "site": _site(model, state),
        "seen": _seen(model, state),
        "done": _repairs(dialogue),
        "found": [_found(model, *one) for one in state.found.items()],
        "could_not": [_name(model, name) for name in sorted(state.could_not)],
        "missing": [part_name(dialogue, part) for part in sorted(state.parts_missing)],
        "pending": _pending(dialogue),
        "still_open": [words()["leaving"][name] for name in left],
        "report": [item.rule.reason for item in _of_kind(dialogue, "duty")],
        "causes": _causes(dialogue),
        "notes": list(state.notes),
    }
    lines = head
    for key, items in sections.items():
        if items:
            lines += _section(told[key], items)
    return "\n".join(lines) + "\n"


def _head(dialogue: Dialogue, record: Record) -> list[str]:
    told, ended = words()["office"], dialogue.state.ended
    times = [at for at in (record.header.at, *(entry.at for entry in record.entries)) if at]
    lines: list[str] = []
    if times:
        lines += wrapped("", fill(told["times"], {"first": times[0], "last": times[-1]}))
    about = dialogue.model.about
    values = {"model": f"{about.id} {about.version}", "hash": dialogue.model.hash[:8]}
    lines += wrapped("", fill(told["model"], values))
    end = words()["ends"][ended.end] if ended else told["unfinished"]
    to = f", {ended.to}" if ended and ended.to else ""
    lines += wrapped("", fill(told["end"], {"end": f"{end}{to}"}))
    if ended and ended.act:
        lines += wrapped("", fill(told["act"], {"act": dialogue.model.repairs[ended.act].name}))
    if ended and ended.call_back:
        lines += wrapped("", fill(told["call_back"], {"date": ended.call_back}))
    return lines


def _site(model: Model, state: VisitState) -> list[str]:
    values = [
        f"{model.site[n].name}: {model.site[n].values[v].name}" for n, v in state.site.items()
    ]
    return [*values, *(f"{model.measures[n].name}: {text}" for n, text in state.measures.items())]


def _seen(model: Model, state: VisitState) -> list[str]:
    """Every observation in its order; repairs stand between those before and after them."""
    lines: list[str] = []
    done = 0
    read = {item.place: item.reading.written for item in state.readings}
    for place, (epoch, name, outcome) in enumerate(state.seen):
        while done < epoch:
            lines.append(
                fill(words()["office"]["then"], {"repair": _name(model, state.done[done])})
            )
            done += 1
        number = f" ({read[place]})" if place in read else ""
        text = outcome_text(model, name, outcome)
        lines.append(f"{observation_name(model, name)}: {text}{number}")
    return lines


def _repairs(dialogue: Dialogue) -> list[str]:
    """Repairs with the parts they took, the shop's code and the price."""
    model, currency = dialogue.model, dialogue.model.about.currency
    lines = []
    for name in dialogue.state.done:
        repair = model.repairs[name]
        parts = [
            f"{part_name(dialogue, part)} {money(model.parts[part].price.value, currency)}"
            for part in repair.parts
        ]
        lines.append(f"{repair.name}: {', '.join(parts)}" if parts else repair.name)
    return lines


def _found(model: Model, fault: str, how: str) -> str:
    name = model.faults[fault].name
    return f"{name} ({templates()['cases']['hows'][how]})" if how else name


def _pending(dialogue: Dialogue) -> list[str]:
    model, state = dialogue.model, dialogue.state
    if not state.done or state.seen_now().get(PROOF) == "passed":
        later = [model.repairs[name].proven_later for name in dict.fromkeys(state.done)]
        return [text for text in later if text]
    last = model.repairs[state.done[-1]]
    return [text for text in (last.proven_now, last.proven_later, model.about.proof.later) if text]


def _causes(dialogue: Dialogue) -> list[str]:
    advice, trouble = advice_of(dialogue)
    if advice is None:
        return [trouble]
    lines = [
        f"{dialogue.model.faults[fault].name} {share(chance)}"
        for fault, chance in advice.faults[:FAULTS]
    ]
    return [*lines, fill(words()["office"]["works"], {"works": advice.works})]


# --- shared ------------------------------------------------------------------------------------


def _section(title: str, items: list[str]) -> list[str]:
    if not items:
        return []
    lines = ["", title]
    for text in items:
        lines += wrapped("- ", text)
    return lines


def _fired(dialogue: Dialogue) -> tuple[Fired, ...]:
    """The rules that held at any time of the visit: a defect stays one after a repair."""
    state = dialogue.state
    facts = facts_of(dialogue.model, state)
    whole = Facts(facts.site, facts.complaints, state.seen_ever(), state.seen_ever(), facts.done)
    return fired(dialogue.model, whole)


def _of_kind(dialogue: Dialogue, kind: str) -> list[Fired]:
    return [item for item in _fired(dialogue) if item.rule.kind == kind]


def _name(model: Model, act: str) -> str:
    if act == PROOF:
        return model.about.proof.name
    return model.checks[act].name if act in model.checks else model.repairs[act].name
