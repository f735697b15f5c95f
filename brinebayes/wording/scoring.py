"""How good a ranking was on recorded cases, as one page for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isinf
from typing import Any

from brinebayes.knowledge.schema import Model
from brinebayes.scoring.calibration import Bin, Calibration
from brinebayes.scoring.ranking import FIGURES
from brinebayes.scoring.resampling import Figure
from brinebayes.scoring.score import LAST, Group, Ranking, Score, Step
from brinebayes.scoring.wrong import Missed, Push
from brinebayes.wording.fill import fill, share, templates
from brinebayes.wording.lines import wrapped

#: Groups and missed cases that are shown without --all, and cases that such a group has at least.
MOST_GROUPS, MOST_MISSED, FEWEST = 12, 5, 5

RANKS = ("top_1", "top_3", "reciprocal_rank")
CHANCES = ("log_score", "brier", "leader_chance", "leader_found")
BY_GROUP = ("top_1", "log_score")
#: Letters of a group's name.
NAME = 32
_PARTS = ("top_1", "top_3", "leader_chance", "leader_found")


def words() -> dict[str, Any]:
    """The templates of this room."""
    found: dict[str, Any] = templates()["score"]
    return found


def to_text(score: Score, everything: bool = False) -> str:
    """The page. `everything`: all groups and all missed cases."""
    blocks = [heading(score), _explained(score)]
    for ranking in score.rankings:
        if len(score.rankings) > 1:
            blocks.append([name(ranking.model)])
        blocks += [
            _steps(ranking.steps, RANKS, "ranks"),
            _steps(ranking.steps, CHANCES, "chances"),
            _reliability(ranking),
        ]
    blocks.append(_differences(score))
    first = score.rankings[0]
    blocks += _groups(score, first, everything)
    blocks.append(_missed(first, everything))
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


# --- what stands at the top, here and in the report --------------------------------------------


def heading(score: Score) -> list[str]:
    """Which cases, and which were left out; lines of their own."""
    lines = wrapped("", title(score))
    for text in notes(score):
        lines += wrapped("  ", text)
    return lines


def title(score: Score) -> str:
    """Which model, which cases."""
    record, about = score.sorted, score.rankings[0].model.about
    return say(
        "title",
        model=about.name,
        version=about.version,
        cases=cases(record.scored),
        first=record.first_day,
        last=record.last_day,
    )


def notes(score: Score) -> list[str]:
    """What must be known of the cases before their figures are believed."""
    record = score.sorted
    misfits = sum(record.misfits.values())
    why = record.misfits.most_common(1)[0][0] if misfits else ""
    said = [
        ("all_invented", record.invented == record.scored, {}),
        ("invented", 0 < record.invented < record.scored, {"count": str(record.invented)}),
        ("nothing_found", record.nothing_found, {"count": str(record.nothing_found)}),
        ("impossible", record.impossible, {"count": str(record.impossible)}),
        ("misfit", misfits, {"count": str(misfits), "why": why}),
    ]
    return [say(key, **values) for key, holds, values in said if holds]


def rules(score: Score) -> list[str]:
    """How was counted."""
    unit = words()["units"][score.resampled]
    found = [say("rule", several=str(score.sorted.several))]
    found.append(say("intervals", unit=unit, count=str(score.units)))
    if score.few:
        found.append(say("few", unit=words()["units_plural"][score.resampled]))
    return found


def _explained(score: Score) -> list[str]:
    return [line for text in rules(score) for line in wrapped("", text)]


# --- tables ------------------------------------------------------------------------------------


def _steps(steps: Sequence[Step], figures: Sequence[str], title: str) -> list[str]:
    head = [say("head_step"), say("head_cases"), *(label(one) for one in figures)]
    rows = [
        [answers(step.answers), str(step.going_on), *cells(step.figures, figures)] for step in steps
    ]
    lines = [say(title), *table(head, rows)]
    for one in figures:
        lines += wrapped("  ", f"{label(one)}: {words()['explained'][one]}.")
    return lines if title != "ranks" else [*lines, *wrapped("  ", say("steps"))]


def _differences(score: Score) -> list[str]:
    if not score.differences:
        return []
    first, other = (ranking.model for ranking in score.rankings)
    lines = wrapped("", say("difference", model=name(first), other=name(other)))
    shown = ("top_1", "reciprocal_rank", "log_score", "brier")
    rows = [
        [answers(one.answers), *(difference(each, one.figures) for each in shown)]
        for one in score.differences
    ]
    lines += table([say("head_step"), *(label(one) for one in shown)], rows)
    return [*lines, *wrapped("  ", verdict(score))]


def verdict(score: Score) -> str:
    """Which of two models is the better one by its log score before the first repair."""
    last = next(one for one in score.differences if one.answers == LAST)
    gain = last.figures[list(FIGURES).index("log_score")]
    names = [name(ranking.model) for ranking in score.rankings]
    if gain.low > 0.0 or gain.high < 0.0:
        return say("clearly", better=names[gain.value < 0.0], worse=names[gain.value > 0.0])
    return say("undecided")


def _reliability(ranking: Ranking) -> list[str]:
    lines: list[str] = []
    for when, one in ranking.calibration.items():
        lines += ["", say("reliability", when=words()["when"][when])]
        rows = [list(bin_cells(each)) for each in one.bins]
        lines += table(words()["bins"], rows)
        for text in calibration_says(ranking, when, one):
            lines += wrapped("  ", text)
    return lines[1:]


def calibration_says(ranking: Ranking, when: str, one: Calibration) -> list[str]:
    """What a calibration comes to, in words."""
    step = next(s for s in ranking.steps if str(s.answers) == when)
    stated, found = (step.figures[list(FIGURES).index(k)] for k in _PARTS[2:])
    parts = say(
        "decomposition",
        brier=f"{one.brier.value:.4f}",
        mcb=f"{one.miscalibration.value:.4f}",
        dsc=f"{one.discrimination.value:.4f}",
        unc=f"{one.uncertainty.value:.4f}",
        chance=f"{one.by_chance:.4f}",
    )
    off = one.miscalibration.value > one.by_chance
    key = "fair"
    if found.high < stated.value:
        key = "over"
    elif found.low > stated.value:
        key = "under"
    shown = {"stated": share(stated.value), "found": interval("leader_found", found)}
    return [parts, say("miscalibrated" if off else "calibrated"), say(key, **shown)]


def _groups(score: Score, ranking: Ranking, everything: bool) -> list[list[str]]:
    blocks = []
    for kind, groups in by_kind(ranking):
        large = [one for one in groups if one.cases >= FEWEST][:MOST_GROUPS]
        shown = groups if everything else (large or groups[:MOST_GROUPS])
        head = [words()["kinds"][kind].lower(), say("head_cases"), *(label(k) for k in BY_GROUP)]
        rows = [
            [
                short_name(ranking.model, one, NAME) + (say("few_mark") if one.few else ""),
                str(one.cases),
                *cells(one.figures, BY_GROUP, one.few),
            ]
            for one in shown
        ]
        block = [say("groups", what=words()["kinds"][kind]), *table(head, rows)]
        if any(one.few for one in shown):
            block += wrapped("  ", say("few_note", unit=words()["units"][score.resampled]))
        if len(shown) < len(groups):
            block += wrapped("  ", say("more", count=str(len(groups) - len(shown))))
        blocks.append(block)
    return blocks


def by_kind(ranking: Ranking) -> list[tuple[str, list[Group]]]:
    """Groups under what they are groups of; all site conditions together."""
    found: dict[str, list[Group]] = {}
    for one in ranking.groups:
        kind = "site" if one.kind in ranking.model.site else one.kind
        found.setdefault(kind, []).append(one)
    return list(found.items())


def group_name(model: Model, group: Group) -> str:
    """What a group is called."""
    if group.kind == "fault":
        return model.faults[group.name].name
    if group.kind in model.site:
        condition = model.site[group.kind]
        return f"{condition.name}: {condition.values[group.name].name}"
    return str(words()[group.kind][group.name])


def short_name(model: Model, group: Group, width: int) -> str:
    """The same in at most `width` characters; kinds of site by their ids, as these differ."""
    name = group_name(model, group)
    if group.kind in model.site:
        name = f"{group.kind}: {group.name}".replace("_", " ")
    return name if len(name) <= width else name[: width - 3].rstrip(" ,:") + "..."


# --- cases that were got wrong -----------------------------------------------------------------


def _missed(ranking: Ranking, everything: bool) -> list[str]:
    lines = [say("missed")]
    shown = ranking.missed if everything else ranking.missed[:MOST_MISSED]
    for number, one in enumerate(shown, 1):
        lines += wrapped(f"{number:>2}. ", " ".join(reasons(ranking.model, one)))
    return lines if shown else [*lines, *wrapped("  ", say("missed_none"))]


def reasons(model: Model, one: Missed) -> list[str]:
    """A missed case in sentences: what was found, what stood first, and why."""
    said = [
        say(
            "missed_case",
            case=one.case,
            found=model.faults[one.found].name,
            chance=small_share(one.chance),
            place=str(one.place),
        ),
        say(
            "missed_leader",
            leader=model.faults[one.leader].name,
            leader_chance=share(one.leader_chance),
        ),
    ]
    if isinf(one.before):
        said.append(say("missed_impossible", found=model.faults[one.found].name))
    elif one.before > 3.0:
        said.append(say("missed_before", times=times(one.before)))
    pushes = "; ".join(_push(model, push) for push in one.pushes)
    if pushes:
        said.append(say("missed_pushes", pushes=pushes))
    elif not isinf(one.before):
        said.append(say("missed_no_push"))
    if one.conflict > 1.0:
        bits = f"{one.conflict:.1f}"
        if one.suspect:
            suspect = model.observation(one.suspect).name
            said.append(say("missed_conflict", bits=bits, suspect=suspect))
        else:
            said.append(say("missed_conflict_plain", bits=bits))
    return said


def _push(model: Model, push: Push) -> str:
    factor = times(push.decibans)
    if push.what in model.complaints:
        return say("missed_said", what=model.complaints[push.what].name, times=factor)
    if push.what == "proof":
        return say("missed_push", what="proof", outcome=push.outcome, times=factor)
    about = model.observation(push.what)
    outcome = about.outcomes[push.outcome]
    return say("missed_push", what=about.name, outcome=outcome, times=factor)


# --- small things ------------------------------------------------------------------------------


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Columns as wide as they need to be, numbers under each other, two blanks between."""
    lines = [list(head), *map(list, rows)]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    shown = []
    for line in lines:
        first = line[0].ljust(widths[0])
        rest = (text.rjust(width) for text, width in zip(line[1:], widths[1:], strict=True))
        shown.append("  " + "  ".join([first, *rest]).rstrip())
    return shown


def cells(figures: Sequence[Figure], shown: Iterable[str], few: bool = False) -> list[str]:
    """Some figures with their intervals; `few`: without."""
    place = {figure: k for k, figure in enumerate(FIGURES)}
    found = [interval(one, figures[place[one]]) for one in shown]
    return [text.partition(" (")[0] for text in found] if few else found


def difference(figure: str, figures: Sequence[Figure]) -> str:
    """A difference with its interval, in the unit of the figure."""
    one = figures[list(FIGURES).index(figure)]
    if figure in _PARTS:
        low, high = 100.0 * one.low, 100.0 * one.high
        return f"{100.0 * one.value:+.0f} % ({low:+.0f} to {high:+.0f})"
    return f"{one.value:+.2f} ({one.low:+.2f} to {one.high:+.2f})"


def interval(figure: str, one: Figure) -> str:
    """A figure with its interval."""
    if figure in _PARTS:
        return f"{100.0 * one.value:.0f} % ({100.0 * one.low:.0f}-{100.0 * one.high:.0f})"
    return f"{one.value:.2f} ({one.low:.2f}-{one.high:.2f})"


def bin_cells(one: Bin) -> tuple[str, str, str, str]:
    """Stated from to, how often, the mean stated, the part that came true."""
    edges = f"{100.0 * one.low:.0f} to {100.0 * one.high:.0f} %"
    found = one.found
    digits = 1 if found.value < 0.1 else 0
    true = f"{100.0 * found.value:.{digits}f} %"
    true += f" ({100.0 * found.low:.{digits}f}-{100.0 * found.high:.{digits}f})"
    return edges, str(one.statements), f"{100.0 * one.stated:.1f} %", true


def answers(step: int | str) -> str:
    """The head of a step's row."""
    return say("last") if step == LAST else say("told") if step == 0 else str(step)


def label(figure: str) -> str:
    """The head of a figure's column."""
    return str(words()["figures"][figure])


def name(model: Model) -> str:
    """A model with its version and enough of its hash to tell two of them apart."""
    return f"{model.about.id} {model.about.version} ({model.hash[:8]})"


def cases(count: int) -> str:
    """A number of cases."""
    return say("one_case") if count == 1 else say("cases", count=str(count))


def times(decibans: float) -> str:
    """The factor of some decibans."""
    factor = 10.0 ** (decibans / 10.0)
    return f"{factor:.0f}" if factor >= 9.5 else f"{factor:.1f}"


def small_share(value: float) -> str:
    """A probability that may be far below one per cent."""
    return share(value) if value >= 0.01 else f"{100.0 * value:.2g} %"


def say(key: str, **values: str) -> str:
    """One of the templates, filled."""
    return fill(words()[key], values)
