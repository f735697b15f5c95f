"""A prompt of a visit as a screen of text: the act, what can hurt, why, the way, the question."""

from __future__ import annotations

from typing import Any

from brinebayes.dialogue.dialogue import Dialogue, advice_of
from brinebayes.dialogue.prompt import Option, Prompt
from brinebayes.knowledge.schema import Model
from brinebayes.setups.routes import Route
from brinebayes.visit.state import PROOF
from brinebayes.wording.answer import reason_text, wrapped_reading
from brinebayes.wording.fill import fill, minutes, money, share, templates
from brinebayes.wording.lines import numbered, wrapped

#: Lines of the list of acts.
LISTED = 12

ACTS = ("check", "repair", "fetch", "prove", "licensed", "finish", "escalate")


def screen(dialogue: Dialogue) -> str:
    """Everything that is shown before the technician types."""
    prompt = dialogue.prompt
    lines = [*_told(dialogue), *_running(dialogue)]
    if prompt.kind in ACTS:
        lines += _act(dialogue)
    lines += _question(dialogue)
    options = [option_text(dialogue.model, prompt, option) for option in prompt.options]
    if prompt.kind == "choose":
        lines += _choices(dialogue)
    else:
        lines += numbered(options)
    lines += wrapped("      ", _hint(dialogue)) if _hint(dialogue) else []
    return "\n".join(["", *lines]) + "\n"


def _hint(dialogue: Dialogue) -> str:
    prompt, hints = dialogue.prompt, words()["hints"]
    if prompt.kind in ("check", "question"):
        check = dialogue.model.checks[prompt.subject]
        method = check.observations[prompt.observation].reading
        return fill(hints["number"], {"unit": method.unit}) if method else ""
    return str(hints.get(prompt.kind, ""))


def words() -> dict[str, Any]:
    """The templates of a visit."""
    found: dict[str, Any] = templates()["visit"]
    return found


def option_text(model: Model, prompt: Prompt, option: Option) -> str:
    """One numbered answer in words."""
    if prompt.kind == "leaving":
        return str(words()["leaving"][option.id])
    if prompt.kind == "which_end":
        return str(words()["ends"][option.id])
    key, _, part = option.id.partition(":")
    if part:
        return fill(words()["options"][key], {"part": option.text})
    return option.text or str(words()["options"][option.id])


# --- above the act -----------------------------------------------------------------------------


def _told(dialogue: Dialogue) -> list[str]:
    """What a number was taken to mean, rules that hold since the last answer, and answers that
    fit badly together.
    """
    lines = [line for item in dialogue.read for line in wrapped_reading(item)]
    names = templates()["notes"]
    shown = [i for i in dialogue.fresh if i.rule.kind in ("outside", "escalates", "duty", "doubts")]
    if dialogue.prompt.kind in ("leaving", "closed", "make_safe"):
        shown = []
    for item in sorted(shown, key=lambda item: list(names).index(item.rule.kind)):
        lines += wrapped(f"{names[item.rule.kind]}: ", item.rule.reason)
    if dialogue.clash and dialogue.prompt.kind in (*ACTS, "question"):
        lines += clash(dialogue)
    return [*lines, ""] if lines else []


def clash(dialogue: Dialogue) -> list[str]:
    """Answers that fit together badly, and how to give the doubtful one anew; empty if none do."""
    advice, _ = advice_of(dialogue)
    if advice is None or advice.contradiction is None:
        return []
    found, told, model = advice.contradiction, templates()["contradiction"], dialogue.model
    if found.rare_fault is not None:
        name = model.faults[found.rare_fault].name
        return wrapped("? ", fill(told["rare"], {"bits": found.bits, "fault": name}))
    if not found.suspects:
        return []
    suspect = found.suspects[0][0]
    name = observation_name(model, suspect)
    text = fill(told["misread"], {"bits": found.bits, "suspect": name})
    if suspect not in model.complaints:
        text += " " + fill(words()["lines"]["again"], {"suspect": suspect})
    return wrapped("? ", text)


def _running(dialogue: Dialogue) -> list[str]:
    prompt, model = dialogue.prompt, dialogue.model
    if not prompt.running or prompt.running == prompt.subject:
        return []
    check = model.checks[prompt.running]
    time = minutes(check.waiting_minutes.value, 0.0)
    lines = wrapped("", fill(words()["lines"]["running"], {"check": check.name, "time": time}))
    disturbs = prompt.route is not None and prompt.route.moves
    if prompt.kind in ACTS and (disturbs or prompt.kind not in ("check", "finish", "escalate")):
        lines += wrapped("  !     ", words()["lines"]["ends_wait"])
    return [*lines, ""]


# --- the act -----------------------------------------------------------------------------------


def _act(dialogue: Dialogue) -> list[str]:
    prompt, model = dialogue.prompt, dialogue.model
    assert prompt.valued is not None, prompt.kind
    act = prompt.valued.act
    lines = wrapped(f"{words()['labels'][prompt.kind]}: ", act.name)
    lines += _cautions(act.own_cautions)
    if prompt.kind not in ("finish", "escalate"):
        lines += wrapped("  takes ", minutes(act.minutes, act.waiting_minutes))
    lines += wrapped("  why   ", _reason(dialogue))
    lines += _parts(dialogue)
    if any(prompt.refill):
        time = minutes(*prompt.refill)
        lines += wrapped("  brine ", fill(words()["lines"]["refill"], {"time": time}))
    if prompt.route is not None:
        lines += way(model, prompt.route)
    if act.id in model.checks and model.checks[act.id].tools:
        lines += wrapped("  bring ", ", ".join(model.checks[act.id].tools))
    if act.how:
        lines += wrapped("  do    ", act.how)
    if act.id in model.repairs and model.repairs[act.id].also_do:
        lines += wrapped("  also  ", model.repairs[act.id].also_do)
    if prompt.route is not None and act.cautions:
        lines += wrapped("        ", templates()["local_codes"])
    return [*lines, *_meanwhile(dialogue), ""]


def _reason(dialogue: Dialogue) -> str:
    """Why this act; for one that was taken instead of the advised one, what that costs."""
    advice, _ = advice_of(dialogue)
    valued = dialogue.prompt.valued
    assert advice is not None
    assert valued is not None
    if valued.act.id == advice.next.act.id:
        return reason_text(advice)
    if dialogue.prompt.running and dialogue.scene.focus.act != valued.act.id:
        return str(words()["said"]["fits"])
    return compared(dialogue)


def compared(dialogue: Dialogue) -> str:
    """The act on the screen against the best other one, in money until the visit ends."""
    advice, _ = advice_of(dialogue)
    valued = dialogue.prompt.valued
    if advice is None or valued is None or len(advice.choice.ranked) < 2:
        return ""
    best, second = advice.choice.ranked[:2]
    other = second if valued.act.id == best.act.id else best
    gap = abs(valued.expected_cost - other.expected_cost)
    saves = money(gap, dialogue.model.about.currency)
    template = "better" if other is second else "taken"
    return fill(words()["said"][template], {"name": other.act.name, "saves": saves})


def _cautions(cautions: tuple[str, ...]) -> list[str]:
    return [line for text in cautions for line in wrapped("  !     ", text)]


def way(model: Model, route: Route) -> list[str]:
    """The moves in order, the cautions of each below it, each caution where it first matters."""
    lines: list[str] = []
    told: set[str] = set()
    for number, name in enumerate(route.moves, 1):
        move = model.setups.moves[name]
        head = "  first " if number == 1 else "        "
        lines += wrapped(f"{head}{number}. ", move.name)
        for text in move.cautions:
            if text not in told:
                lines += wrapped("           ! ", text)
        told.update(move.cautions)
    return lines


def _parts(dialogue: Dialogue) -> list[str]:
    model, act = dialogue.model, dialogue.prompt.subject
    if act not in model.repairs:
        return []
    lines: list[str] = []
    for part in model.repairs[act].parts:
        head = "  parts " if not lines else "        "
        lines += wrapped(head, f"{part_name(dialogue, part)}, {_at_hand(dialogue, part)}")
    return lines


def part_name(dialogue: Dialogue, part: str) -> str:
    """A part with the shop's code for it, if it has one."""
    code = dialogue.shop.codes.get(part)
    name = dialogue.model.parts[part].name
    return f"{name} ({code})" if code else name


def _at_hand(dialogue: Dialogue, part: str) -> str:
    told = words()["parts"]
    if part in dialogue.state.parts_missing:
        return str(told["missing"])
    if part in dialogue.state.parts_here:
        return str(told["here"])
    chance = dialogue.model.parts[part].in_van.value
    if chance in (0.0, 1.0):
        return str(told["in_van" if chance else "not_in_van"])
    return fill(told["maybe"], {"share": share(chance)})


def _meanwhile(dialogue: Dialogue) -> list[str]:
    prompt, model = dialogue.prompt, dialogue.model
    if not prompt.meanwhile:
        return []
    time = minutes(model.checks[prompt.subject].waiting_minutes.value, 0.0)
    names = "; ".join(model.checks[name].name for name in prompt.meanwhile[:2])
    lines = words()["lines"]
    text = fill(lines["start"] + lines["meanwhile"], {"time": time, "checks": names})
    return wrapped("  wait  ", text)


# --- the question ------------------------------------------------------------------------------


def _question(dialogue: Dialogue) -> list[str]:
    prompt, model, told = dialogue.prompt, dialogue.model, words()["questions"]
    match prompt.kind:
        case "complaint":
            more = "_more" if dialogue.state.complaints else ""
            return [told[f"complaint{more}"]]
        case "make_safe":
            return [
                told["make_safe"].upper(),
                *wrapped("  !   ", model.rules[prompt.subject].reason),
            ]
        case "site":
            place = list(model.site).index(prompt.subject) + 1
            values = {"place": str(place), "count": str(len(model.site))}
            question = model.site[prompt.subject].question
            return wrapped("", fill(told["site"], {**values, "question": question}))
        case "setup":
            return [told["setup"], *_usual(model, prompt.variables)]
        case "check" | "question":
            check = model.checks[prompt.subject]
            head = [check.name] if prompt.kind == "question" else []
            return [*head, *wrapped("", check.observations[prompt.observation].question)]
        case "to_whom":
            key = "to_whom" if prompt.text else "to_whom_nobody"
            text = told["to_whom"] + words()["enter"][key]
            return wrapped("", fill(text, {"default": prompt.text}))
        case "leaving":
            end = words()["ends"][prompt.subject]
            lines = wrapped("", fill(told["leaving"], {"end": end}))
            if prompt.route is None:
                return [*lines, *wrapped("  !     ", words()["lines"]["unknown_setup"])]
            return [*lines, *way(model, prompt.route)]
        case "part":
            name = model.setups.variables[prompt.subject].name
            return wrapped("", fill(told["part"], {"part": name}))
        case "call_back":
            text = told["call_back"] + words()["enter"]["call_back"]
            return wrapped("", fill(text, {"default": prompt.text}))
        case "stuck":
            return [told["stuck"].upper(), *wrapped("  ", prompt.text)]
        case "closed":
            end = words()["ends"][prompt.subject]
            return wrapped("", fill(told["closed"], {"end": end}))
        case kind:
            return [told[kind] + words()["enter"].get(kind, "")]


def _usual(model: Model, names: tuple[str, ...]) -> list[str]:
    lines: list[str] = []
    for variable in (model.setups.variables[name] for name in names):
        lines += wrapped("  -   ", f"{variable.name}: {variable.values[variable.service]}")
    return lines


def _choices(dialogue: Dialogue) -> list[str]:
    advice = dialogue.scene.advice
    assert advice is not None
    lines = wrapped("", words()["said"]["listed"])
    currency = dialogue.model.about.currency
    for number, item in enumerate(advice.choice.ranked[:LISTED], 1):
        time = minutes(item.act.minutes, item.act.waiting_minutes)
        amount = money(item.expected_cost, currency)
        lines += wrapped(f"{number:>4}  ", f"{item.act.name} ({time}; {amount})")
    return lines


def observation_name(model: Model, name: str) -> str:
    """An observation, or a complaint, in the words of the model."""
    if name == PROOF:
        return model.about.proof.name
    if name in model.complaints:
        return model.complaints[name].name
    return model.observation(name).name


def outcome_text(model: Model, name: str, outcome: str) -> str:
    """An outcome of an observation in the words of the model."""
    if name == PROOF:
        return str(words()["options"][outcome])
    return model.observation(name).outcomes[outcome]
