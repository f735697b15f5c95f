"""A score as data: JSON, and one long table."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from io import StringIO
from typing import Any

from brinebayes.knowledge.schema import Model
from brinebayes.scoring.calibration import GRID, Calibration
from brinebayes.scoring.ranking import FIGURES
from brinebayes.scoring.resampling import COVERS, RESAMPLES, Figure
from brinebayes.scoring.score import LAST, Ranking, Score
from brinebayes.sensitivity.sensitivity import Sensitivity
from brinebayes.wording.sensitivity import to_object as told

SCHEMA = "brinebayes.score.1"
COLUMNS = ("model", "part", "name", "answers", "cases", "figure", "value", "low", "high")


def to_object(score: Score, sensitivity: Sensitivity | None = None) -> dict[str, Any]:
    """Everything, with intervals; what cannot be told is null."""
    record = score.sorted
    return {
        "schema": SCHEMA,
        "cases": {
            **{k: v for k, v in vars(record).items() if k != "misfits"},
            "misfits": dict(record.misfits),
        },
        "intervals": {
            "covers": COVERS,
            "resamples": RESAMPLES,
            "by": score.resampled,
            "units": score.units,
            "few": score.few,
        },
        "better": {
            name: None if up is None else "more" if up else "less" for name, up in FIGURES.items()
        },
        "models": [_ranking(one) for one in score.rankings],
        "differences": [
            {"answers": one.answers, "figures": figures(one.figures)} for one in score.differences
        ],
        "sensitivity": None if sensitivity is None else told(sensitivity),
    }


def to_csv(score: Score) -> str:
    """One line for each figure of each step and group, of the differences and of the bins."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(_lines(score))
    return out.getvalue()


def _lines(score: Score) -> Iterator[Sequence[object]]:
    for ranking in score.rankings:
        model = ranking.model.hash
        for step in ranking.steps:
            yield from _each((model, "step", "", step.answers, step.going_on), step.figures)
        for group in ranking.groups:
            yield from _each((model, group.kind, group.name, LAST, group.cases), group.figures)
        for when, one in ranking.calibration.items():
            for bin_ in one.bins:
                name, true = f"{bin_.low:g}-{bin_.high:g}", bin_.found
                yield model, "bin", name, when, bin_.statements, "stated", bin_.stated, "", ""
                yield model, "bin", name, when, bin_.statements, "found", *_plain(true)
            for part in ("brier", "miscalibration", "discrimination", "uncertainty"):
                figure = getattr(one, part)
                yield model, "statement", "", when, one.statements, part, *_plain(figure)
    for difference in score.differences:
        other, count = score.rankings[1].model.hash, score.sorted.scored
        head = (other, "difference", "", difference.answers, count)
        yield from _each(head, difference.figures)


def _each(head: Sequence[object], figures: Sequence[Figure]) -> Iterator[Sequence[object]]:
    for name, one in zip(FIGURES, figures, strict=True):
        yield *head, name, *_plain(one)


def _plain(one: Figure) -> tuple[object, object, object]:
    return one.value, _known(one.low), _known(one.high)


def _ranking(ranking: Ranking) -> dict[str, Any]:
    return {
        **_model(ranking.model),
        "steps": [
            {"answers": s.answers, "cases": s.going_on, "figures": figures(s.figures)}
            for s in ranking.steps
        ],
        "groups": [
            {
                "kind": g.kind,
                "name": g.name,
                "cases": g.cases,
                "few": g.few,
                "figures": figures(g.figures),
            }
            for g in ranking.groups
        ],
        "calibration": {when: _calibration(one) for when, one in ranking.calibration.items()},
        "most_wrong": [asdict(one) for one in ranking.missed],
    }


def _model(model: Model) -> dict[str, str]:
    return {"id": model.about.id, "version": model.about.version, "hash": model.hash}


def _calibration(one: Calibration) -> dict[str, Any]:
    return {
        "statements": one.statements,
        "brier": _figure(one.brier),
        "miscalibration": {**_figure(one.miscalibration), "by_chance": one.by_chance},
        "discrimination": _figure(one.discrimination),
        "uncertainty": _figure(one.uncertainty),
        "curve": [list(point) for point in one.curve],
        "band": [
            [at, each.low, each.high] for at, each in zip(GRID, one.band, strict=True) if each
        ],
        "bins": [
            {
                "low": b.low,
                "high": b.high,
                "statements": b.statements,
                "stated": b.stated,
                "found": _figure(b.found),
            }
            for b in one.bins
        ],
    }


def figures(values: Sequence[Figure]) -> dict[str, dict[str, float | None]]:
    """By their names."""
    return {name: _figure(one) for name, one in zip(FIGURES, values, strict=True)}


def _figure(one: Figure) -> dict[str, float | None]:
    return {"value": one.value, "low": _known(one.low), "high": _known(one.high)}


def _known(value: float) -> float | None:
    return value if value == value else None
