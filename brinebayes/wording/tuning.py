"""What cases say about a model, on one page for a senior technician, and as data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp
from typing import Any

from brinebayes.knowledge.schema import Condition, Model
from brinebayes.tuning.acceptance import FEWEST, Paired
from brinebayes.tuning.changes import Change
from brinebayes.tuning.numbers import GROUPS, Entry
from brinebayes.tuning.tune import PLAIN, Tuning
from brinebayes.wording.fill import fill, templates
from brinebayes.wording.lines import wrapped

SCHEMA = "brinebayes.tune.1"
#: Rows of wrong beliefs, and names in a list, on the one page.
MOST_ROWS, MOST_NAMES = 20, 8
#: A smaller part of the minutes is not worth a line.
SLIGHT = 0.2


def words() -> dict[str, Any]:
    """The templates of this room."""
    found: dict[str, Any] = templates()["tuning"]
    return found


def to_text(tuning: Tuning, everything: bool = False) -> str:
    """The page. `everything`: every number that changes, and every one that stays."""
    blocks = [
        _heading(tuning),
        _scores(tuning),
        _wrong(tuning, everything),
        _moved(tuning, everything),
        _stays(tuning, everything),
        _misleading(tuning),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def written_text(tuning: Tuning, folder: str, version: str) -> str:
    """That a new version was written, and how to go back."""
    before = tuning.start.about.version
    text = _say("written", folder=folder, version=version, before=before)
    return "\n".join(wrapped("", text)) + "\n"


def closing(key: str, **values: str) -> str:
    """One of the closing lines."""
    return "\n".join(wrapped("", _say(key, **values))) + "\n"


# --- the parts of the page ---------------------------------------------------------------------


def _heading(tuning: Tuning) -> list[str]:
    record, about = tuning.sorted, tuning.start.about
    lines = wrapped(
        "",
        _say(
            "title",
            cases=_cases(record.counted),
            model=about.name,
            version=about.version,
            first=record.first_day,
            last=record.last_day,
        ),
    )
    misfits = sum(record.misfits.values())
    said = [
        ("held_back", record.held_back, {"days": str(tuning.terms.window_days)}),
        ("already", record.already_learned, {}),
        ("called_back", record.called_back, {}),
        ("invented", record.invented, {}),
        ("misfit", misfits, {"why": record.misfits.most_common(1)[0][0] if misfits else ""}),
    ]
    for key, count, values in said:
        if count:
            lines += wrapped("  ", _say(key, count=str(count), **values))
    if not tuning.settled:
        lines += wrapped("  ", _say("unsettled", rounds=str(tuning.rounds)))
    return lines


def _scores(tuning: Tuning) -> list[str]:
    if set(tuning.groups) <= set(PLAIN):
        return wrapped("", _say("score_none"))
    verdict = tuning.verdict
    lines = [_say("score_head", count=str(verdict.record.cases))]
    if not verdict.enough:
        few = _say("score_few", count=str(verdict.record.cases), fewest=str(FEWEST))
        return [*lines, *wrapped("  ", few)]
    lines += wrapped("  ", _say("score_record", **_ratio(verdict.record)))
    if verdict.found is not None:
        found = {**_ratio(verdict.found), "count": str(verdict.found.cases)}
        lines += wrapped("  ", _say("score_found", **found))
    if not verdict.better:
        return [*lines, *wrapped("  ", _say("score_worse"))]
    sure = "score_better" if verdict.record.low > 0.0 else "score_unsure"
    return [*lines, *wrapped("  ", _say(sure))]


def _wrong(tuning: Tuning, everything: bool) -> list[str]:
    wrong = sorted((one for one in tuning.changes if _is_wrong(one)), key=lambda one: -one.surprise)
    lines = [_say("wrong_head")]
    if not wrong:
        return [*lines, *wrapped("  ", _say("wrong_none"))]
    shown = wrong if everything else wrong[:MOST_ROWS]
    for one in shown:
        lines += wrapped("  ", row(tuning.start, one))
    if len(shown) < len(wrong):
        lines += wrapped("  ", _say("more", count=str(len(wrong) - len(shown))))
    return lines


def _moved(tuning: Tuning, everything: bool) -> list[str]:
    moved = [one for one in tuning.changes if not one.stays and not _is_wrong(one)]
    if not moved:
        return []
    lines = [_say("moved_head")]
    if everything:
        for one in moved:
            lines += wrapped("  ", row(tuning.start, one))
        return lines
    names = _names(what(tuning.start, one) for one in moved)
    return [*lines, *wrapped("  ", _say("moved_count", count=str(len(moved)), names=names))]


def _stays(tuning: Tuning, everything: bool) -> list[str]:
    lines = [_say("stays_head")]
    for reason in ("few", "wide", "same"):
        here = [one for one in tuning.changes if one.stays == reason]
        if here:
            most = len(here) if everything else MOST_NAMES
            names = _names((what(tuning.start, one) for one in here), most)
            lines += wrapped("  ", _say(f"stays_{reason}", count=str(len(here)), names=names))
    left = [words()["groups"][group] for group in GROUPS if group not in tuning.groups]
    if left:
        lines += wrapped("  ", _say("stays_groups", groups="; ".join(left)))
    return lines


def _misleading(tuning: Tuning) -> list[str]:
    found, model = tuning.misleading, tuning.start
    lines = [_say("misleading_head")]
    if found.by_repair:
        worst = sorted(found.unseen.items(), key=lambda item: (-item[1][0], item[0]))
        names = _names(
            (f"{model.faults[f].name} ({a} of {b})" for f, (a, b) in worst), MOST_NAMES // 2
        )
        lines += wrapped("  ", _say("by_repair", part=_part(found.unseen_part), names=names))
    if found.own_way:
        part = _part(found.not_followed)
        lines += wrapped("  ", _say("own_way", part=part, count=str(found.advised)))
    if found.few_normal and found.missing_normal:
        names = _names(
            (
                _say(
                    "normal_item",
                    name=model.observation(one.observation).name,
                    normal=f"{one.normal:.0f}",
                    made=f"{one.made:.0f}",
                    expected=f"{one.expected:.0f}",
                )
                for one in found.missing_normal
            ),
            MOST_NAMES // 2,
        )
        lines += wrapped("  ", _say("few_normal", names=names))
    return lines if len(lines) > 1 else [*lines, *wrapped("  ", _say("misleading_none"))]


# --- one number --------------------------------------------------------------------------------


def row(model: Model, change: Change) -> str:
    """One number as a line: what it is, old, new, interval, and the plain reason."""
    kind = _kind(change.entry)
    place = max(range(len(change.new)), key=lambda k: abs(change.new[k] - change.old[k]))
    known = change.known[place]
    reason = words()["why"].get(kind) or words()["why"]["share" if kind == "without" else "link"]
    why = fill(reason, {"cases": f"{change.cases:.0f}", "seen": f"{change.seen or 0.0:.0f}"})
    return _say(
        "row",
        what=what(model, change),
        old=_value(kind, change.old[place]),
        new=_value(kind, change.new[place]),
        low=_value(kind, known.low),
        high=_value(kind, known.high),
        why=why,
    )


def what(model: Model, change: Change) -> str:
    """What a number is about, in words; of a spread the state that changes most."""
    place = max(range(len(change.new)), key=lambda k: abs(change.new[k] - change.old[k]))
    return about(model, change.entry, place)


def about(model: Model, entry: Entry, place: int = 0) -> str:
    """What a number, or one state of a spread, is about, in words."""
    path = [str(step) for step in entry.path]
    state = entry.states[place] if entry.states else ""
    kind = _kind(entry)
    values: dict[str, str] = {"state": state.replace("_", " ")}
    match kind:
        case "share":
            values["fault"] = model.faults[path[1]].name
        case "factor":
            values["fault"] = model.faults[path[5]].name
            values["value"] = model.site[path[1]].values[path[3]].name
        case "misreading" | "row":
            observation = model.checks[path[1]].observations[path[3]]
            values["observation"] = observation.name
            if kind == "row":
                values["cause"] = _when(model, observation.rows[int(path[5])].when)
                values["state"] = observation.outcomes[state]
        case "clears":
            values |= {"repair": model.repairs[path[1]].name, "fault": model.faults[path[3]].name}
        case "minutes":
            name = path[1]
            known = name in model.checks
            values["act"] = (model.checks[name] if known else model.repairs[name]).name
        case "mix":
            values["condition"] = model.site[path[1]].name
            values["value"] = model.site[path[1]].values[path[3]].name
        case "link" | "leak":
            mechanism = model.mechanisms[path[1]]
            values["mechanism"] = mechanism.name
            if kind == "link":
                cause = _when(model, mechanism.causes[int(path[3])].when)
                values |= {"cause": f"{cause} -> {mechanism.name}"}
    return fill(words()["what"][kind], values)


def to_object(tuning: Tuning) -> dict[str, Any]:
    """The same as data: every number looked at, changed or not."""
    verdict = tuning.verdict
    return {
        "schema": SCHEMA,
        "model": {
            "id": tuning.start.about.id,
            "version": tuning.start.about.version,
            "hash": tuning.start.hash,
        },
        "groups": list(tuning.groups),
        "cases": {
            **{k: v for k, v in vars(tuning.sorted).items() if k != "misfits"},
            "misfits": dict(tuning.sorted.misfits),
            "different": tuning.different,
        },
        "rounds": tuning.rounds,
        "settled": tuning.settled,
        "accepted": tuning.accepted,
        "split": tuning.split,
        "score": {
            "unit": "nat a case",
            "record": _paired(verdict.record),
            "found": _paired(verdict.found) if verdict.found else None,
        },
        "numbers": [_number(tuning.start, one) for one in tuning.changes],
        "misleading": {
            "confirmations": tuning.misleading.confirmations,
            "unseen_part": tuning.misleading.unseen_part,
            "advised": tuning.misleading.advised,
            "not_followed": tuning.misleading.not_followed,
            "normal_apart": tuning.misleading.normal_apart,
            "missing_normal": [one.observation for one in tuning.misleading.missing_normal],
        },
    }


def _number(model: Model, one: Change) -> dict[str, Any]:
    return {
        "file": one.entry.file,
        "path": list(one.entry.path),
        "about": what(model, one),
        "states": list(one.entry.states),
        "old": list(one.old),
        "new": list(one.new),
        "low": [known.low for known in one.known],
        "high": [known.high for known in one.known],
        "cases": one.cases,
        "stays": one.stays or None,
    }


# --- small things ------------------------------------------------------------------------------


def _kind(entry: Entry) -> str:
    path = entry.path
    if entry.group == "shares":
        return {"faults": "share", "site": "factor"}.get(str(path[0]), "without")
    if entry.group == "links":
        return "leak" if path[-1] == "leak" else "link"
    return {
        "misreadings": "misreading",
        "repairs": "clears",
        "minutes": "minutes",
        "sites": "mix",
        "observations": "row",
    }[entry.group]


def _is_wrong(change: Change) -> bool:
    if change.entry.group == "minutes":
        # Some seconds are no wrong belief, however sure they are.
        old, new = change.old[0], change.new[0]
        return change.refuted and abs(new - old) > SLIGHT * old and not change.stays
    return not change.stays and change.refuted


def _when(model: Model, when: Condition) -> str:
    said = []
    labels = {name: fault.name for name, fault in model.faults.items()}
    labels |= {name: mechanism.name for name, mechanism in model.mechanisms.items()}
    labels |= {name: condition.name for name, condition in model.site.items()}
    for name, states in when.items():
        label = labels.get(name, name)
        if states == "present":
            said.append(label)
        else:
            listed = states if isinstance(states, str) else " or ".join(states)
            said.append(f"{label} {listed.replace('_', ' ')}")
    return " and ".join(said) or "anything else"


def _value(kind: str, value: float) -> str:
    if kind == "factor":
        return f"x {value:.2g}"
    if kind == "minutes":
        return f"{value:.1f} min"
    return f"{100.0 * value:.1f} %"


def _ratio(paired: Paired) -> dict[str, str]:
    return {
        "ratio": f"{exp(paired.gain):.2f}",
        "low": f"{exp(paired.low):.2f}",
        "high": f"{exp(paired.high):.2f}",
    }


def _paired(paired: Paired) -> dict[str, float]:
    return {**vars(paired), "gain": paired.gain}


def _cases(count: int) -> str:
    return _say("one_case") if count == 1 else _say("cases", count=str(count))


def _names(names: Iterable[str], most: int = MOST_NAMES) -> str:
    known: Sequence[str] = tuple(names)
    rest = len(known) - most
    return "; ".join(known[:most]) + (f"; and {rest} more" if rest > 0 else "")


def _part(value: float) -> str:
    return f"{100.0 * value:.0f} %"


def _say(key: str, **values: str) -> str:
    return fill(words()[key], values)
