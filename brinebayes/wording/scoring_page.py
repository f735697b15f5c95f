"""How good a ranking was, as one file to look at in a browser or on paper; nothing is fetched."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

import brinebayes
from brinebayes.scoring import plots
from brinebayes.scoring.ranking import FIGURES
from brinebayes.scoring.resampling import COVERS, RESAMPLES
from brinebayes.scoring.score import Group, Ranking, Score
from brinebayes.sensitivity.sensitivity import Sensitivity
from brinebayes.wording import scoring as say
from brinebayes.wording import sensitivity as hang

#: Rows of a picture; the table beside it has all of them.
MOST_ROWS = 40


def page(score: Score, sensitivity: Sensitivity | None = None) -> str:
    """The whole file. Raises UsageError without matplotlib."""
    title = say.title(score)
    body = [
        f"<header><h1>{escape(title)}</h1>",
        *(f'<p class="note">{escape(text)}</p>' for text in say.notes(score)),
        *(f"<p>{escape(text)}</p>" for text in say.rules(score)),
        "</header><main>",
        _places(score),
        _chances(score),
        *(_reliability(k, one) for k, one in enumerate(score.rankings)),
        _differences(score),
        *_groups(score),
        *(_missed(one, len(score.rankings) > 1) for one in score.rankings),
        *(_sensitivity(sensitivity) if sensitivity is not None else ()),
        "</main>",
        _footer(score),
    ]
    return document(title, body)


def document(title: str, body: Iterable[str]) -> str:
    """A file around its parts: own style, nothing from elsewhere, readable on a phone."""
    css = Path(__file__).with_name("scoring_page.css").read_text(encoding="utf-8")
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    head = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
    )
    return head + "\n".join(part for part in body if part) + "\n</body>\n</html>\n"


# --- the sections ------------------------------------------------------------------------------


def _places(score: Score) -> str:
    shown = ("top_1", "top_3")
    return _against_answers(score, "ranks", shown, (*shown, "reciprocal_rank"), "up_part", True)


def _chances(score: Score) -> str:
    return _against_answers(score, "chances", ("log_score",), say.CHANCES, "up_log", False)


def _against_answers(
    score: Score,
    key: str,
    drawn: Sequence[str],
    told: Sequence[str],
    up: str,
    shares: bool,
) -> str:
    several = len(score.rankings) > 1
    place = {name: k for k, name in enumerate(FIGURES)}
    steps = score.rankings[0].steps
    series = [
        plots.Series(
            f"{say.name(one.model)}: {say.label(name)}" if several else say.label(name),
            tuple(step.figures[place[name]] for step in one.steps),
        )
        for one in score.rankings
        for name in drawn
    ]
    names = [say.answers(step.answers) for step in steps]
    picture = plots.lines(key, names, series, say.say("across_answers"), say.say(up), shares)
    head = [say.say("head_step"), say.say("head_cases"), *(say.label(name) for name in told)]
    tables = [
        table(
            say.name(one.model) if several else "",
            head,
            [
                [say.answers(s.answers), str(s.going_on), *say.cells(s.figures, told)]
                for s in one.steps
            ],
        )
        for one in score.rankings
    ]
    explained = [f"{say.label(name)}: {say.words()['explained'][name]}." for name in told]
    text = [say.say("bars"), say.say("steps"), *explained]
    return section(say.say(key), [], picture, text, "".join(tables))


def _reliability(number: int, ranking: Ranking) -> str:
    found = []
    for when, one in ranking.calibration.items():
        title = say.say("reliability", when=say.words()["when"][when])
        words = say.calibration_says(ranking, when, one)
        picture = plots.reliability(
            f"reliability-{number}-{when}",
            one,
            say.say("across_stated"),
            say.say("up_true"),
            say.say("up_many"),
        )
        rows = [say.bin_cells(each) for each in one.bins]
        told = table(say.name(ranking.model), say.words()["bins"], rows)
        found.append(section(title, words, picture, [say.say("reliability_read")], told))
    return "".join(found)


def _differences(score: Score) -> str:
    if not score.differences:
        return ""
    first, other = (say.name(ranking.model) for ranking in score.rankings)
    place = list(FIGURES).index("log_score")
    parts = [plots.Part(say.answers(one.answers), one.figures[place]) for one in score.differences]
    picture = plots.rows("difference", parts, say.say("across_gain"), shares=False, nought=True)
    shown = ("top_1", "reciprocal_rank", "log_score", "brier")
    rows = [
        [say.answers(one.answers), *(say.difference(each, one.figures) for each in shown)]
        for one in score.differences
    ]
    told = table("", [say.say("head_step"), *(say.label(each) for each in shown)], rows)
    title = say.say("difference", model=first, other=other)
    return section(title, [say.verdict(score)], picture, [say.say("filled")], told)


def _groups(score: Score) -> list[str]:
    ranking = score.rankings[0]
    place = list(FIGURES).index("top_1")
    found = []
    for kind, groups in say.by_kind(ranking):
        what = say.words()["kinds"][kind]
        parts = [plots.Part(_row_name(ranking, one), one.figures[place], one.few) for one in groups]
        picture = plots.rows(f"by-{kind}", parts[:MOST_ROWS], say.say("across_first"), shares=True)
        head = [what.lower(), say.say("head_cases"), *(say.label(k) for k in say.BY_GROUP)]
        rows = [
            [
                say.group_name(ranking.model, one) + (say.say("few_mark") if one.few else ""),
                str(one.cases),
                *say.cells(one.figures, say.BY_GROUP, one.few),
            ]
            for one in groups
        ]
        under = [say.say("bars")]
        if len(groups) > MOST_ROWS:
            under.append(say.say("first_rows", count=str(MOST_ROWS)))
        if any(one.few for one in groups):
            under.append(say.say("few_note", unit=say.words()["units"][score.resampled]))
        title = say.say("groups", what=what)
        found.append(section(title, [], picture, under, table("", head, rows)))
    return found


def _row_name(ranking: Ranking, group: Group) -> str:
    """Short enough to stand at the side of a picture as wide as a phone."""
    return say.short_name(ranking.model, group, 28)


def _missed(ranking: Ranking, several: bool) -> str:
    title = say.say("missed") + (f" {say.name(ranking.model)}" if several else "")
    items = "".join(
        f"<li>{escape(' '.join(say.reasons(ranking.model, one)))}</li>" for one in ranking.missed
    )
    told = f"<ol>{items}</ol>" if items else f"<p>{escape(say.say('missed_none'))}</p>"
    return f"<section><h2>{escape(_sentence(title))}</h2>{told}</section>"


def _sensitivity(found: Sensitivity) -> Iterable[str]:
    parts = [plots.Part(name, figure) for name, figure in hang.parts(found)]
    picture = plots.rows("held", parts, hang.say("across_held"), shares=True)
    words = [*hang.says(found), hang.steady(found)]
    under = [hang.say("held_read"), hang.say("other_says")]
    yield section(hang.say("head"), words, picture, under, table("", *hang.held_table(found)))
    if not found.matters:
        return
    pairs = [(one.down, one.up) for one in found.matters]
    picture = plots.pairs("matters", pairs, hang.say("across"))
    head, rows = hang.matter_table(found)
    numbered = [[f"{k}. {name}", *rest] for k, (name, *rest) in enumerate(rows, 1)]
    told = table("", head, numbered)
    words, under = [hang.say("most_says")], [hang.say("read")]
    yield section(hang.say("most"), words, picture, under, told, wide=True)


def _footer(score: Score) -> str:
    record = score.sorted
    models = "; ".join(
        f"{one.model.about.id} {one.model.about.version}, {one.model.hash}"
        for one in score.rankings
    )
    text = say.say(
        "made",
        version=brinebayes.__version__,
        models=models,
        cases=str(record.scored),
        sets=str(record.evidence),
        different=str(record.different),
        resamples=str(RESAMPLES),
        covers=f"{100 * COVERS:.0f}",
    )
    return f"<footer>{escape(text)}</footer>"


# --- parts of a page ---------------------------------------------------------------------------


def section(
    title: str,
    words: Sequence[str],
    picture: str,
    under: Sequence[str],
    beside: str,
    wide: bool = False,
) -> str:
    """A picture with what it says under it and its table beside it, a `wide` one below."""
    said = "".join(f"<p>{escape(text)}</p>" for text in words)
    caption = " ".join(under)
    name = escape(_sentence(title))
    drawn = picture.replace("<svg", f'<svg role="img" aria-label="{name}"', 1)
    side = "side wide" if wide else "side"
    return (
        f'<section><h2>{name}</h2>{said}<div class="{side}">'
        f"<figure>{drawn}<figcaption>{escape(caption)}</figcaption></figure>"
        f"<div>{beside}</div></div></section>"
    )


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table whose first column names its rows."""
    top = "".join(f'<th scope="col">{escape(text)}</th>' for text in head)
    body = "".join(
        f'<tr><th scope="row">{escape(first)}</th>'
        + "".join(f"<td>{escape(text)}</td>" for text in rest)
        + "</tr>"
        for first, *rest in rows
    )
    title = f"<caption>{escape(caption)}</caption>" if caption else ""
    return (
        f'<div class="table" tabindex="0"><table>{title}<thead><tr>{top}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def _sentence(title: str) -> str:
    """A heading in capitals as a sentence; names in small letters stay as they are."""
    words = [word.lower() if word.isupper() else word for word in title.split()]
    text = " ".join(words)
    return text[:1].upper() + text[1:]
