"""What is said in a visit between two prompts: reasons, thoughts, refusals, help."""

from __future__ import annotations

from brinebayes.dialogue.dialogue import Dialogue, Said, advice_of
from brinebayes.knowledge.schema import Model
from brinebayes.visit.events import ModelIs
from brinebayes.wording.fill import fill, share
from brinebayes.wording.lines import wrapped
from brinebayes.wording.screen import clash, compared, observation_name, outcome_text, words

#: Faults that are named.
FAULTS = 6


def talk(dialogue: Dialogue, said: Said) -> str:
    """One thing said, as lines."""
    match said.what:
        case "help":
            lines = [line for word, what in words()["help"] for line in _help(word, what)]
        case "why":
            lines = _why(dialogue)
        case "think":
            lines = _think(dialogue)
        case "ended":
            values = {"end": words()["ends"][said.values["end"]], "office": "--summary office"}
            lines = wrapped("", fill(words()["said"]["ended"], values))
        case "taken_back":
            event = words()["events"][said.values["event"]]
            values = {"event": event, "words": said.values["words"]}
            lines = wrapped("", fill(words()["said"]["taken_back"], values))
        case "after_repair":
            lines = _after_repair(dialogue.model, said.values["repair"])
        case what:
            lines = wrapped("", fill(words()["said"][what], said.values))
    return "\n".join(["", *lines]) + "\n"


def welcome(path: str, answers: int, set_aside: str, before: ModelIs | None, now: ModelIs) -> str:
    """The first lines of a sitting."""
    told = words()["welcome"]
    key = "resumed" if answers else "begun"
    lines = wrapped("", fill(told[key], {"path": path, "answers": str(answers)}))
    if set_aside:
        lines += wrapped("! ", fill(told["set_aside"], {"text": set_aside.strip()}))
    if before is not None and before.hash != now.hash:
        values = {"before": _model(before), "now": _model(now)}
        lines += wrapped("! ", fill(told["model_changed"], values))
    lines += wrapped("", told["how_to"])
    return "\n".join(lines) + "\n"


def _model(model: ModelIs) -> str:
    return f"{model.id} {model.version} ({model.hash[:8]})"


def _help(word: str, what: str) -> list[str]:
    return wrapped(f"  {word:<18} ", what)


def _why(dialogue: Dialogue) -> list[str]:
    """The comparison, what the check tells, and what each of its answers would leave in front."""
    advice, trouble = advice_of(dialogue)
    told = words()["said"]
    if advice is None:
        return wrapped("", fill(told["no_advice"], {"why": trouble}))
    valued = dialogue.prompt.valued
    if valued is None:
        return wrapped("", told["no_answer"])
    lines = wrapped("", compared(dialogue))
    if valued.act.kind == "check":
        lines += wrapped("", fill(told["told_apart"], {"bits": valued.bits}))
    asked = ""
    for item in advice.outcomes if valued.act.id == advice.next.act.id else ():
        if item.observation != asked:
            asked = item.observation
            lines += wrapped("", observation_name(dialogue.model, asked))
        named = [
            f"{dialogue.model.faults[fault].name} {share(chance)}"
            for fault, chance in item.leading
            if chance >= 0.01
        ]
        values: dict[str, str | float] = {
            "outcome": outcome_text(dialogue.model, item.observation, item.outcome),
            "chance_share": item.probability,
            "leading": ", ".join(named),
        }
        lines += wrapped("  - ", fill(told["would_leave"], values))
    return lines


def _think(dialogue: Dialogue) -> list[str]:
    advice, trouble = advice_of(dialogue)
    told = words()["said"]
    if advice is None:
        return wrapped("", fill(told["no_advice"], {"why": trouble}))
    lines = wrapped("", fill(told["works_now"], {"works": advice.works}))
    for fault, chance in advice.faults[:FAULTS]:
        lines += wrapped(f"  {share(chance):>9}  ", dialogue.model.faults[fault].name)
    rest = len(advice.faults) - FAULTS
    if rest > 0:
        lines += wrapped("             ", fill(told["fewer"], {"count": str(rest)}))
    return [*lines, *clash(dialogue)]


def _after_repair(model: Model, repair: str) -> list[str]:
    item, told = model.repairs[repair], words()["said"]
    lines: list[str] = []
    for key in ("proven_now", "proven_later"):
        text = getattr(item, key)
        if text:
            lines += wrapped("", fill(told[key], {"text": text}))
    return lines
