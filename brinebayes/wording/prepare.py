"""The sheet for a call: as one JSON object, and on paper of 80 columns."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from brinebayes.advice.prepare.questions import Answer, Asked, PhoneQuestion
from brinebayes.advice.prepare.sheet import Sheet
from brinebayes.knowledge.rules import Fired
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.shop import Shop
from brinebayes.wording.fill import fill, minutes, share, templates
from brinebayes.wording.lines import wrapped

SCHEMA = "brinebayes.prepare.1"
#: Lines of each list on one sheet.
QUESTIONS, FAULTS, PARTS, TOOLS = 4, 4, 6, 8
#: Observations that tell less than this are not put on paper beside a better one.
TOLD_FROM = 0.02
#: Behind an answer stands what it changes: a fault by so much, or the first one.
CHANGED_FROM = 0.04
#: From here on the unit is said to be perhaps in order.
IN_ORDER_FROM = 0.4
#: Minutes are planned in steps of this.
STEP = 5


# --- for programs ------------------------------------------------------------------------------


def to_object(model: Model, sheet: Sheet, shop: Shop) -> dict[str, Any]:
    """The answer of `prepare --json`. Probabilities are unrounded, minutes and money as stated."""
    about, chances = model.about, sheet.chances
    return {
        "schema": SCHEMA,
        "model": {"name": about.id, "version": about.version, "hash": model.hash},
        "currency": about.currency,
        "now": [
            {"rule": item.rule_id, "advice": item.rule.reason, "cautions": cautions(model, item)}
            for item in sheet.notes
            if item.rule.kind == "make_safe"
        ],
        "notes": [
            {"rule": item.rule_id, "kind": item.rule.kind, "reason": item.rule.reason}
            for item in sheet.notes
            if item.rule.kind in templates()["prepare"]["notes"]
        ],
        "questions": [_question_object(model, item) for item in sheet.questions],
        "faults": [
            {"id": fault, "name": model.faults[fault].name, "probability": chance}
            for fault, chance in sheet.faults
        ],
        "works": sheet.works,
        "parts": [
            {
                "id": part.part,
                "name": model.parts[part.part].name,
                "code": shop.codes.get(part.part),
                "needed": part.needed,
                "in_van": part.in_van,
                "price_without": part.without,
                "carrying": part.carrying,
                "carry": part.carry,
            }
            for part in sheet.parts
        ],
        "ends_mended": {
            "carrying": chances.carrying,
            "van_as_is": chances.van_as_is,
            "fetching": chances.fetching,
            "cause_known": chances.known,
            "standard_error": chances.error,
            "visits": sheet.visits,
        },
        "minutes": {"median": sheet.minutes[0], "cautious": sheet.minutes[1]},
        "tools": [{"tool": tool, "share": chance} for tool, chance in sheet.tools],
        "not_for_this_visit": [
            {"kind": kind, "repair": repair or None, "probability": chance}
            for kind, repair, chance in sheet.elsewhere
        ],
    }


def _question_object(model: Model, item: PhoneQuestion) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "id": item.id,
        "minutes": item.minutes,
        "bits": item.bits,
        "bits_per_minute": item.bits / item.minutes,
        "for_safety": item.safety,
        "cautions": list(model.checks[item.id].cautions) if item.kind == "check" else [],
        "asked": [
            {
                "id": asked.id,
                "question": question_text(model, asked.id),
                "bits": asked.bits,
                "answers": [
                    {
                        "answer": answer.answer,
                        "words": _words(model, asked.id, answer.answer),
                        "probability": answer.chance,
                        "then": [{"id": f, "probability": p} for f, p in answer.leading],
                        "works": answer.works,
                        "take_along": list(answer.load),
                        "not_needed": list(answer.leave),
                        "rules": [rule.rule_id for rule in answer.rules],
                    }
                    for answer in asked.answers
                ],
            }
            for asked in item.asked
        ],
    }


# --- on paper ----------------------------------------------------------------------------------


def to_text(model: Model, sheet: Sheet, shop: Shop) -> str:
    """One sheet: what the customer does now, what to ask, what to carry, how long it takes."""
    parts = [
        *_head(model, sheet),
        "",
        *_now(model, sheet),
        "",
        *_questions(model, sheet),
        "",
        *_causes(model, sheet),
        "",
        *_parts(model, sheet, shop),
        "",
        *_visit(model, sheet),
    ]
    return "\n".join(parts) + "\n"


def cautions(model: Model, item: Fired) -> list[str]:
    """What the customer must mind in the moves that a rule asks for."""
    moves = [model.setups.moves[name] for name in item.rule.moves]
    return list(dict.fromkeys(text for move in moves for text in move.cautions))


def question_text(model: Model, name: str) -> str:
    """The question in the customer's words: of an observation or a site condition."""
    if name in model.site:
        return model.site[name].phone
    observation = model.observation(name)
    return observation.phone or observation.question


def _told() -> dict[str, Any]:
    found: dict[str, Any] = templates()["prepare"]
    return found


def _head(model: Model, sheet: Sheet) -> list[str]:
    told, state = _told(), sheet.state
    said = "; ".join(model.complaints[name].name.lower() for name in state.complaints)
    known = [
        f"{model.site[name].name.lower()}: {model.site[name].values[value].name}"
        for name, value in state.site.items()
    ]
    known += [
        f"{model.observation(name).name.lower()}: {_words(model, name, outcome)}"
        for name, outcome in state.seen_ever().items()
    ]
    about = model.about
    lines = wrapped(f"{told['title']}: ", f"{about.name.lower()}")
    lines += wrapped("", fill(told["said"], {"text": said or told["said_nothing"]}))
    if known:
        lines += wrapped("", fill(told["known"], {"text": "; ".join(known)}))
    return lines


def _now(model: Model, sheet: Sheet) -> list[str]:
    told = _told()
    lines = [told["now"]]
    fired = [item for item in sheet.notes if item.rule.kind == "make_safe"]
    for item in fired:
        lines += wrapped("  ! ", item.rule.reason)
    minded = dict.fromkeys(text for item in fired for text in cautions(model, item))
    for text in minded:
        lines += wrapped(f"    {told['care']}", text)
    lines += wrapped("    " if fired else "  ", told["always"] if fired else told["nothing_now"])
    for item in sheet.notes:
        if item.rule.kind in told["notes"]:
            lines += wrapped(f"  {told['notes'][item.rule.kind]}: ", item.rule.reason)
    return lines


def _questions(model: Model, sheet: Sheet) -> list[str]:
    told = _told()
    lines = [told["ask"]]
    for number, item in enumerate(sheet.questions[:QUESTIONS], 1):
        worth = {"time": minutes(item.minutes, 0.0), "bits": f"{item.bits:.2f}"}
        tail = told["for_safety"] if item.safety else fill(told["worth"], worth)
        first, *others = item.asked
        for asked in [first, *(one for one in others if one.bits >= TOLD_FROM)]:
            head = f"{number:>2}. " if asked is first else "    "
            question = f"{asked.id}: {question_text(model, asked.id)}"
            lines += wrapped(head, f"{question} {tail}" if asked is first else question)
            if asked is first and item.kind == "check":
                for text in model.checks[item.id].cautions:
                    lines += wrapped("    ! ", text)
            for answer in asked.answers:
                lines += _answer(model, sheet, asked, answer)
    if not sheet.questions:
        lines += wrapped("  ", told["no_questions"])
    rest = len(sheet.questions) - QUESTIONS
    if rest > 0:
        lines += wrapped("    ", fill(told["more_questions"], {"count": str(rest)}))
    return lines


def _answer(model: Model, sheet: Sheet, asked: Asked, answer: Answer) -> list[str]:
    """One answer, and what it changes; nothing behind it where it changes nothing."""
    spoken = _words(model, asked.id, answer.answer)
    parts = [f"{answer.answer}, {share(answer.chance)}: {spoken}", *_changes(model, sheet, answer)]
    return wrapped("    = ", "; ".join(parts))


def _changes(model: Model, sheet: Sheet, answer: Answer) -> Iterable[str]:
    told, before = _told(), dict(sheet.faults)
    if answer.works >= IN_ORDER_FROM:
        yield fill(told["in_order"], {"works_share": answer.works})
    moved = [
        f"{model.faults[fault].name} {share(chance)}"
        for fault, chance in answer.leading[:2]
        if chance - before[fault] >= CHANGED_FROM
    ]
    if moved:
        yield fill(told["then"], {"leading": ", ".join(moved)})
    for key, parts in (("bring", answer.load), ("drop", answer.leave)):
        if parts:
            names = ", ".join(model.parts[part].name.lower() for part in parts)
            yield fill(told[key], {"parts": names})
    for item in answer.rules:
        yield fill(told["say"], {"text": item.rule.reason})


def _words(model: Model, name: str, answer: str) -> str:
    if name in model.site:
        return model.site[name].values[answer].name
    if name in {one for check in model.checks.values() for one in check.observations}:
        return model.observation(name).outcomes[answer]
    return answer


def _causes(model: Model, sheet: Sheet) -> list[str]:
    told = _told()
    lines = [fill(told["causes"], {"works": sheet.works})]
    for fault, chance in sheet.faults[:FAULTS]:
        lines += wrapped(f"  {share(chance):>9}  ", model.faults[fault].name)
    rest = len(sheet.faults) - FAULTS
    if rest > 0:
        lines += wrapped(" " * 13, fill(told["fewer"], {"count": str(rest)}))
    return lines


def _parts(model: Model, sheet: Sheet, shop: Shop) -> list[str]:
    told = _told()
    carried = [part for part in sheet.parts if part.carry]
    if not carried:
        return [told["parts"], *wrapped("  ", told["no_parts"])]
    lines = [told["parts"], f"  {told['parts_head']}"]
    for part in carried[:PARTS]:
        code = shop.codes.get(part.part)
        name = model.parts[part.part].name + (f" ({code})" if code else "")
        lines += wrapped(f"  {share(part.needed):>9}  {share(part.in_van):>6}  ", name)
    rest = len(carried) - PARTS
    if rest > 0:
        lines += wrapped(" " * 21, fill(told["more_parts"], {"count": str(rest)}))
    values: dict[str, str | float] = {
        "without_cost": carried[0].without,
        "currency": model.about.currency,
    }
    return lines + wrapped("  ", fill(told["weighed"], values))


def _visit(model: Model, sheet: Sheet) -> list[str]:
    told, chances = _told(), sheet.chances
    lines = [told["visit"]]
    lines += wrapped(
        "  ",
        fill(
            told["chance"],
            {
                "carrying_share": chances.carrying,
                "van_share": chances.van_as_is,
                "fetching_share": chances.fetching,
                "error_share": chances.error,
            },
        )
        + " "
        + fill(told["known_cause"], {"known_share": chances.known}),
    )
    median, cautious = (f"{STEP * round(value / STEP)}" for value in sheet.minutes)
    lines += wrapped("  ", fill(told["minutes"], {"median": median, "cautious": cautious}))
    lines += wrapped("  ", fill(told["how"], {"count": str(sheet.visits)}))
    if sheet.tools:
        names = ", ".join(tool for tool, _ in sheet.tools[:TOOLS])
        lines += wrapped("  ", fill(told["tools"], {"text": names}))
    if sheet.elsewhere:
        work = [
            fill(
                told["kinds"][kind],
                {
                    "repair": model.repairs[repair].name.lower() if repair else "",
                    "chance_share": chance,
                },
            )
            for kind, repair, chance in sheet.elsewhere
        ]
        lines += wrapped("  ", fill(told["elsewhere"], {"text": "; ".join(work)}))
    about = model.about
    lines += ["", *wrapped("", fill(told["model"], {"model": f"{about.id} {about.version}"}))]
    return lines
