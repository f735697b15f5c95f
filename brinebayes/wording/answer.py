"""An advice as one JSON object, and as one screen of text."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

from brinebayes.advice.acts import Act
from brinebayes.advice.advise import Advice
from brinebayes.advice.choose import Choice, Valued
from brinebayes.advice.explanation import Meaning
from brinebayes.knowledge.schema import Model
from brinebayes.network.contradiction import Contradiction
from brinebayes.visit.state import NumberRead
from brinebayes.wording.fill import fill, minutes, money, share, templates
from brinebayes.wording.lines import wrapped

if TYPE_CHECKING:
    from brinebayes.advice.sureness import Sureness
    from brinebayes.advice.weights import Evidence

    Behind = tuple[Evidence, Sureness]

SCHEMA = "brinebayes.next.1"
#: Lines of each list on one screen.
FAULTS_SHOWN = 6
OTHERS_SHOWN = 4
#: Faults below this share are not named behind an outcome.
SHOWN_FROM = 0.01
CARE_INDENT = " " * 13
#: Kinds of rules that remove acts or hold them back.
HOLDING_BACK = ("first", "settles", "excludes")


# --- for programs ------------------------------------------------------------------------------


def to_object(model: Model, advice: Advice, behind: Behind | None = None) -> dict[str, Any]:
    """The answer of `next --json`. Probabilities are unrounded, minutes and money as stated.

    `behind`: the numbers behind it, which make up `detail`.
    """
    about = model.about
    answer: dict[str, Any] = {
        "schema": SCHEMA,
        "model": {"name": about.id, "version": about.version, "hash": model.hash},
        "currency": about.currency,
        "faults": [
            {"id": fault, "name": model.faults[fault].name, "probability": chance}
            for fault, chance in advice.faults
        ],
        "works": advice.works,
        "exact": advice.effective_draws is None,
        "effective_draws": advice.effective_draws,
        "next": _act_object(model, advice.next)
        | {
            "reason": reason_text(advice),
            "outcomes": [_meaning_object(item) for item in advice.outcomes],
        },
        "others": [_act_object(model, item) for item in advice.choice.ranked[1:]],
        "notes": [
            {"rule": item.rule_id, "kind": item.rule.kind, "reason": item.rule.reason}
            for item in advice.notes
        ],
        "held_back": [{"id": act, "reason": why} for act, why in advice.held_back],
        "left_out": list(advice.left_out),
        "contradiction": contradiction_object(advice.contradiction),
        "readings": [reading_object(model, item) for item in advice.readings],
        "table": {"effective_rows": _drawn(advice.choice), "expansions": advice.choice.expansions},
    }
    if behind is not None:
        from brinebayes.wording import detail

        answer["detail"] = detail.to_object(*behind)
    return answer


def _drawn(choice: Choice) -> float | None:
    """Effective number of rows; None where nothing was drawn."""
    return choice.effective_rows if isfinite(choice.effective_rows) else None


def _act_object(model: Model, valued: Valued) -> dict[str, Any]:
    act = valued.act
    spent = act.minutes + act.waiting_minutes
    return {
        "kind": act.kind,
        "id": act.id,
        "name": act.name,
        "minutes": act.minutes,
        "waiting_minutes": act.waiting_minutes,
        "cost": act.cost,
        "expected_cost_to_end": valued.expected_cost,
        "at_least": valued.lower,
        "at_most": valued.upper,
        "bits": valued.bits,
        "bits_per_minute": valued.bits / spent if spent > 0.0 else 0.0,
        "works_after": valued.works_after,
        "how": act.how,
        "route": [{"id": move, "name": model.setups.moves[move].name} for move in act.route.moves],
        "cautions": list(act.cautions),
    }


def _meaning_object(item: Meaning) -> dict[str, Any]:
    return {
        "observation": item.observation,
        "outcome": item.outcome,
        "probability": item.probability,
        "then": [{"id": fault, "probability": chance} for fault, chance in item.leading],
    }


def contradiction_object(found: Contradiction | None) -> dict[str, Any] | None:
    """The contradiction as an object, or null."""
    if found is None:
        return None
    return {
        "bits": found.bits,
        "suspects": [{"observation": name, "bits_without": left} for name, left in found.suspects],
        "rare_fault": found.rare_fault,
    }


def reading_object(model: Model, item: NumberRead) -> dict[str, Any]:
    """A number that was read, with the arithmetic that turned it into a likelihood.

    `ratio` is value over expected, `uncertainty` its relative standard uncertainty; `used` is false
    for what was taken too early.
    """
    reading = item.reading
    observation = model.observation(reading.observation)
    return {
        "observation": reading.observation,
        "after_repairs": item.epoch,
        "text": reading.text,
        "value": reading.value,
        "expected": reading.expected,
        "unit": reading.unit,
        "ratio": reading.ratio,
        "uncertainty": reading.sigma,
        "outcome": reading.outcome,
        "clear": reading.clear,
        "likelihood": dict(zip(observation.outcomes, reading.likelihood, strict=True)),
        "not_told": list(reading.not_told),
        "says": reading.says,
        "steps": list(reading.steps),
        "used": item.place is not None,
        "challenge": reading.challenge.says if reading.challenge else None,
    }


# --- for people --------------------------------------------------------------------------------


def reason_text(advice: Advice) -> str:
    """Why the next act is the next act, in a sentence or two."""
    return fill(templates()["reasons"][advice.why.template], advice.why.values)


def to_text(model: Model, advice: Advice, behind: Behind | None = None) -> str:
    """One screen: what to do, why, what it costs, what could hurt; then what is likely wrong.

    `behind`: the numbers behind it, which are added.
    """
    parts = [
        *_notes(advice),
        *_contradiction(model, advice.contradiction),
        *_estimated(advice),
        *_readings(advice),
        *_next(model, advice),
        "",
        *_faults(model, advice),
        "",
        *_others(model, advice),
        *_held_back(advice),
    ]
    text = "\n".join(parts) + "\n"
    if behind is not None:
        from brinebayes.wording import detail

        text += detail.detail(model, advice, *behind)
    return text


def _notes(advice: Advice) -> list[str]:
    """What the rules want to be read before anything else; what they hold back comes last."""
    heads = templates()["notes"]
    order = [kind for kind in heads if kind not in HOLDING_BACK]
    lines: list[str] = []
    for kind in order:
        for item in advice.notes:
            if item.rule.kind == kind:
                lines += wrapped(f"! {heads[kind]}: ", item.rule.reason)
    return [*lines, ""] if lines else []


def _held_back(advice: Advice) -> list[str]:
    heads = templates()["notes"]
    reasons = {why for _, why in advice.held_back}
    lines: list[str] = []
    for item in advice.notes:
        if item.rule.kind in HOLDING_BACK and item.rule.reason in reasons:
            lines += wrapped(f"  {heads[item.rule.kind]}: ", item.rule.reason)
    return ["", "HELD BACK BY A RULE", *lines] if lines else []


def _contradiction(model: Model, found: Contradiction | None) -> list[str]:
    if found is None:
        return []
    words = templates()["contradiction"]
    if found.rare_fault is not None:
        name = model.faults[found.rare_fault].name
        text = fill(words["rare"], {"bits": found.bits, "fault": name})
    elif found.suspects:
        text = fill(words["misread"], {"bits": found.bits, "suspect": _named(model, found)})
    else:
        text = fill(words["together"], {"bits": found.bits})
    return [*wrapped("? ", text), ""]


def _named(model: Model, found: Contradiction) -> str:
    """The observation whose removal explains most, by id and by the check that shows it."""
    suspect = found.suspects[0][0]
    if suspect in model.complaints:
        return f"{suspect} ({model.complaints[suspect].name})"
    check = next((c for c in model.checks.values() if suspect in c.observations), None)
    return f"{suspect} ({check.name if check else model.about.proof.name})"


def _estimated(advice: Advice) -> list[str]:
    if advice.effective_draws is None:
        return []
    # Half a point of share at worst: the standard error of a share of one half.
    values = {
        "draws": f"{advice.effective_draws:.0f}",
        "error_share": 0.5 / advice.effective_draws**0.5,
    }
    return [*wrapped("~ ", fill(templates()["estimated"], values)), ""]


def _readings(advice: Advice) -> list[str]:
    lines: list[str] = []
    for item in advice.readings:
        lines += wrapped_reading(item)
    return [*lines, ""] if lines else []


def wrapped_reading(item: NumberRead) -> list[str]:
    """What a number was taken to mean, or why it was not taken."""
    reading = item.reading
    if reading.challenge is not None:
        return wrapped("? ", reading.challenge.says)
    return wrapped("= ", f"{reading.observation}: {reading.says}")


def _next(model: Model, advice: Advice) -> list[str]:
    valued = advice.next
    act = valued.act
    price = f"{minutes(act.minutes, act.waiting_minutes)}, {money(act.cost, model.about.currency)}"
    lines = wrapped(f"{templates()['kinds'][act.kind].upper()} NEXT: ", act.name)
    lines += wrapped("  takes   ", price)
    lines += wrapped("  why     ", reason_text(advice))
    lines += _route(model, act)
    lines += wrapped("  then    ", act.how or act.name)
    lines += _cautions(act.own_cautions)
    if act.own_cautions or act.route.cautions:
        lines += wrapped(f"{CARE_INDENT}! ", templates()["local_codes"])
    for name in dict.fromkeys(item.observation for item in advice.outcomes):
        lines += _answers(model, name, [m for m in advice.outcomes if m.observation == name])
    return lines


def _route(model: Model, act: Act) -> list[str]:
    """Every move with its cautions below it; a caution stands where it first matters."""
    lines: list[str] = []
    told: set[str] = set()
    for number, move_id in enumerate(act.route.moves, 1):
        move = model.setups.moves[move_id]
        head = "  first   " if number == 1 else "          "
        lines += wrapped(f"{head}{number}. ", move.name)
        lines += _cautions(tuple(text for text in move.cautions if text not in told))
        told.update(move.cautions)
    return lines


def _cautions(cautions: tuple[str, ...]) -> list[str]:
    return [line for text in cautions for line in wrapped(f"{CARE_INDENT}! ", text)]


def _answers(model: Model, name: str, found: list[Meaning]) -> list[str]:
    """One observation: its id, and each answer with its chance and what it would leave in front."""
    observation = model.observation(name)
    lines = wrapped("  answer  ", f"{name}: {observation.question}")
    for item in found:
        lead = ", ".join(
            f"{model.faults[fault].name} {share(chance)}"
            for fault, chance in item.leading[:2]
            if chance >= SHOWN_FROM
        )
        words = f"{item.outcome}, {share(item.probability)}: {observation.outcomes[item.outcome]}"
        lines += wrapped("          = ", words)
        lines += wrapped("            then ", lead)
    return lines


def _faults(model: Model, advice: Advice) -> list[str]:
    lines = [f"LIKELY CAUSES (unit works now: {share(advice.works)})"]
    for fault, chance in advice.faults[:FAULTS_SHOWN]:
        lines.append(f"  {share(chance):>9}  {model.faults[fault].name}")
    rest = len(advice.faults) - FAULTS_SHOWN
    if rest > 0:
        lines.append(f"             and {rest} less likely ones")
    return lines


def _others(model: Model, advice: Advice) -> list[str]:
    lines = ["OTHER WAYS (expected cost until the visit ends)"]
    currency = model.about.currency
    for item in advice.choice.ranked[: OTHERS_SHOWN + 1]:
        mark = "*" if item is advice.next else " "
        detail = minutes(item.act.minutes, item.act.waiting_minutes)
        if item.act.kind == "check":
            detail += f", {item.bits:.2f} bits"
        elif item.act.id in model.repairs:
            detail += f", then works {share(item.works_after)}"
        amount = money(item.expected_cost, currency)
        lines += wrapped(f"{mark} {amount:>9}  ", f"{item.act.name} ({detail})")
    return lines
