"""How far a score hangs on judged numbers: for a terminal, as data, and for the report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from brinebayes.scoring.resampling import Figure
from brinebayes.sensitivity.matters import Matter
from brinebayes.sensitivity.moves import is_factor, leading
from brinebayes.sensitivity.sensitivity import Sensitivity
from brinebayes.wording import scoring as score
from brinebayes.wording.fill import fill, share
from brinebayes.wording.lines import wrapped
from brinebayes.wording.tuning import about

SHOWN = ("top_1", "top_3", "log_score")


def to_text(found: Sensitivity) -> str:
    """The part of the page."""
    lines = [say("head")]
    for text in says(found):
        lines += wrapped("  ", text)
    lines += score.table(*held_table(found))
    lines += wrapped("  ", say("other_says"))
    lines += wrapped("  ", steady(found))
    lines += ["", say("most"), *wrapped("  ", say("most_says"))]
    for number, one in enumerate(found.matters, 1):
        lines += wrapped(f"{number:>3}. ", _row(found, one))
    return "\n".join(lines) + "\n"


def says(found: Sensitivity) -> list[str]:
    """What was done."""
    drawn = say(
        "drawn",
        numbers=str(found.numbers),
        draws=str(found.holds.draws),
        cases=str(found.cases),
        of=str(found.of),
    )
    refused = found.holds.refused
    return [drawn, say("scale"), *([say("refused", count=str(refused))] if refused else [])]


def steady(found: Sensitivity) -> str:
    """How many cases keep their first fault."""
    told, last = (share(step.steady) for step in found.holds.steps)
    return say("steady", told_share=told, last_share=last)


def held_table(found: Sensitivity) -> tuple[list[str], list[list[str]]]:
    """Head and rows."""
    head = [score.say("head_step"), *(score.label(name) for name in SHOWN), say("other")]
    rows = [
        [
            score.answers(step.answers),
            *score.cells(step.figures, SHOWN),
            score.interval("top_1", step.changed),
        ]
        for step in found.holds.steps
    ]
    return head, rows


def matter_table(found: Sensitivity) -> tuple[list[str], list[list[str]]]:
    """Head and rows; which number, what it is, and on either side what it becomes and does."""
    head = [str(text) for text in score.words()["sensitivity"]["columns"]]
    rows = []
    for one in found.matters:
        sides = ((one.lower, one.down), (one.higher, one.up))
        told = [
            say("impossible") if change is None else f"{_value(one, to)}: {_change(change)}"
            for to, change in sides
        ]
        rows.append([name(found, one), _value(one, one.entry.value[leading(one.entry)]), *told])
    return head, rows


def name(found: Sensitivity, one: Matter) -> str:
    """What a number is about."""
    return about(found.model, one.entry, leading(one.entry))


def to_object(found: Sensitivity) -> dict[str, Any]:
    """The same as data."""
    from brinebayes.wording.scoring_data import figures

    return {
        "cases": found.cases,
        "of": found.of,
        "numbers": found.numbers,
        "draws": found.holds.draws,
        "refused": found.holds.refused,
        "holds": [
            {
                "answers": step.answers,
                "figures": figures(step.figures),
                "another_first": _data(step.changed),
                "steady": step.steady,
            }
            for step in found.holds.steps
        ],
        "matters": [
            {
                "file": one.entry.file,
                "path": list(one.entry.path),
                "about": name(found, one),
                "state": one.entry.states[leading(one.entry)] if one.entry.states else None,
                "value": one.entry.value[leading(one.entry)],
                "weight": one.entry.weight,
                "lower": one.lower,
                "higher": one.higher,
                "down": _data(one.down),
                "up": _data(one.up),
                "affected": one.affected,
            }
            for one in found.matters
        ],
    }


def _row(found: Sensitivity, one: Matter) -> str:
    text = say(
        "row",
        about=name(found, one),
        value=_value(one, one.entry.value[leading(one.entry)]),
        lower=_value(one, one.lower),
        higher=_value(one, one.higher),
        down=_change(one.down),
        up=_change(one.up),
    )
    if one.affected < found.cases:
        text += " " + say("row_cases", count=str(one.affected))
    return text


def _value(one: Matter, value: float | None) -> str:
    if value is None:
        return say("impossible")
    if is_factor(one.entry):
        return f"x {value:.2g}"
    percent = 100.0 * value
    if percent < 1.0:
        return f"{percent:.2g} %"
    return f"{percent:.1f} %" if percent < 99.0 else f"{percent:.2f} %"


def _change(figure: Figure | None) -> str:
    if figure is None:
        return say("impossible")
    return f"{figure.value:+.3f} ({figure.low:+.3f} to {figure.high:+.3f})"


def _data(figure: Figure | None) -> dict[str, float] | None:
    return None if figure is None else {
        "value": figure.value, "low": figure.low, "high": figure.high
    }  # fmt: skip


def say(key: str, **values: str) -> str:
    """One of the templates, filled."""
    return fill(score.words()["sensitivity"][key], values)


def parts(found: Sensitivity) -> Sequence[tuple[str, Figure]]:
    """Shares under drawn numbers, for a picture."""
    shown = ("top_1", "top_3")
    return [
        (f"{score.answers(step.answers)}: {score.label(figure)}", step.figures[k])
        for step in found.holds.steps
        for k, figure in enumerate(shown)
    ]
