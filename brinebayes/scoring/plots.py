"""Pictures as SVG text, in black and grey, for a phone's width as well as for paper.

The only module that imports matplotlib, which comes with the extra `report`. The same data gives
the same text. No meaning hangs on colour: what belongs together has its own mark, stroke and name.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from io import StringIO
from typing import Any

import numpy as np

from brinebayes.errors import UsageError
from brinebayes.record import record
from brinebayes.scoring.calibration import GRID, Calibration
from brinebayes.scoring.resampling import Figure

#: Inches. A picture as wide as a phone keeps its letters readable there; paper takes two of them.
WIDTH, HEIGHT = 4.6, 3.3
INK, GREY, PALE = "#111111", "#767676", "#d6d6d6"
MARKS = (("o", "-"), ("s", "--"), ("^", ":"), ("D", "-."))


@record
class Series:
    """One line of a picture: a figure with its interval at each place."""

    name: str
    figures: tuple[Figure, ...]


@record
class Part:
    """One row of a picture with rows; `hollow`: without its interval, which means nothing there."""

    name: str
    figure: Figure
    hollow: bool = False


def lines(
    key: str, places: Sequence[str], series: Sequence[Series], across: str, up: str, shares: bool
) -> str:
    """Figures against answers, the interval as a bar at each; `shares`: from 0 to 100 %."""
    plt, figure, axes = _start(HEIGHT)
    at = np.arange(len(places))
    shifts = (np.arange(len(series)) - (len(series) - 1) / 2.0) * 0.14
    for (mark, stroke), shift, one in zip(MARKS, shifts, series, strict=False):
        value, low, high = _ends(one.figures)
        color = INK if mark in "o^" else GREY
        axes.vlines(at + shift, low, high, color=color, linewidth=0.9)
        axes.plot(
            at + shift, value, color=color, marker=mark, linestyle=stroke, markersize=4.5,
            markerfacecolor="white" if mark != "o" else color, linewidth=1.1, label=one.name,
        )  # fmt: skip
    axes.set_xticks(at, places)
    axes.set_xlabel(across)
    axes.set_ylabel(up)
    if shares:
        _percent(axes.yaxis)
        axes.set_ylim(0.0, 1.0)
    axes.grid(axis="y", color=PALE, linewidth=0.6)
    if len(series) > 1:
        columns = 2 if len(series) == 2 and shares else 1
        figure.legend(frameon=False, loc="outside upper left", ncols=columns)
    return _svg(plt, figure, key)


def reliability(key: str, one: Calibration, across: str, up: str, many: str) -> str:
    """The isotonic curve with its band, the bins as rings, and how often each chance was stated."""
    plt, figure, (axes, below) = _start(
        4.4, nrows=2, height_ratios=(3.4, 1.0), sharex=True, layout="constrained"
    )
    known = [(at, each) for at, each in zip(GRID, one.band, strict=True) if each is not None]
    axes.fill_between(
        [at for at, _ in known],
        [each.low for _, each in known],
        [each.high for _, each in known],
        color=PALE,
        linewidth=0,
    )
    axes.plot([0, 1], [0, 1], color=GREY, linewidth=0.9, linestyle=(0, (4, 3)))
    axes.plot(*zip(*one.curve, strict=True), color=INK, linewidth=1.4)
    for each in one.bins:
        axes.vlines(each.stated, each.found.low, each.found.high, color=INK, linewidth=0.7)
    axes.plot(
        [each.stated for each in one.bins], [each.found.value for each in one.bins],
        "o", markersize=5, color=INK, markerfacecolor="white", markeredgewidth=1.0,
    )  # fmt: skip
    axes.set_ylim(-0.02, 1.02)
    axes.set_xlim(-0.02, 1.02)
    axes.set_ylabel(up)
    _percent(axes.yaxis)
    edges = [each.low for each in one.bins]
    widths = [each.high - each.low for each in one.bins]
    counts = [each.statements for each in one.bins]
    below.bar(edges, counts, widths, align="edge", color=PALE, edgecolor=INK, linewidth=0.7)
    below.set_yscale("log")
    below.set_ylim(bottom=0.7)
    below.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    below.set_ylabel(many)
    below.set_xlabel(across)
    _percent(below.xaxis)
    return _svg(plt, figure, key)


def rows(key: str, parts: Sequence[Part], across: str, shares: bool, nought: bool = False) -> str:
    """A figure with its interval in every row; `nought`: with a line where there is no difference.

    An interval that leaves nought out, or means anything, has a filled mark.
    """
    plt, figure, axes = _start(max(1.6, 0.7 + 0.23 * len(parts)))
    at = np.arange(len(parts))[::-1]
    for place, part in zip(at, parts, strict=True):
        one = part.figure
        filled = not part.hollow and (not nought or one.low > 0.0 or one.high < 0.0)
        if not part.hollow:
            axes.hlines(place, one.low, one.high, color=INK, linewidth=1.0)
        face = INK if filled else "white"
        axes.plot([one.value], [place], "o", markersize=5, color=INK, markerfacecolor=face)
    axes.set_yticks(at, [part.name for part in parts])
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(-0.7, len(parts) - 0.3)
    axes.set_xlabel(across)
    if nought:
        axes.axvline(0.0, color=GREY, linewidth=0.9, linestyle=(0, (4, 3)))
    if shares:
        _percent(axes.xaxis)
        if not nought:
            axes.set_xlim(-0.03, 1.03)
    axes.grid(axis="x", color=PALE, linewidth=0.6)
    axes.set_axisbelow(True)
    return _svg(plt, figure, key)


def pairs(key: str, pairs: Sequence[tuple[Figure | None, Figure | None]], across: str) -> str:
    """Two figures in every numbered row, a ring above a dot, each with its interval."""
    plt, figure, axes = _start(max(1.6, 0.7 + 0.26 * len(pairs)))
    for place, both in enumerate(pairs):
        for one, shift, face in zip(both, (-0.16, 0.16), ("white", INK), strict=True):
            if one is None:
                continue
            at = place + shift
            axes.hlines(at, one.low, one.high, color=INK, linewidth=0.9)
            axes.plot([one.value], [at], "o", markersize=4.5, color=INK, markerfacecolor=face)
    axes.axvline(0.0, color=GREY, linewidth=0.9, linestyle=(0, (4, 3)))
    axes.set_yticks(range(len(pairs)), [str(k + 1) for k in range(len(pairs))])
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(pairs) - 0.4, -0.6)
    axes.set_xlabel(across)
    axes.grid(axis="x", color=PALE, linewidth=0.6)
    axes.set_axisbelow(True)
    return _svg(plt, figure, key)


# --- how all pictures are made -----------------------------------------------------------------


def _start(height: float, **layout: Any) -> tuple[Any, Any, Any]:
    try:
        import matplotlib
    except ImportError:
        raise UsageError("pictures need matplotlib: pip install 'brinebayes[report]'") from None
    matplotlib.use("svg")
    import matplotlib.pyplot as plt

    layout.setdefault("layout", "constrained")
    sizes = {name: layout.pop(name) for name in ("height_ratios",) if name in layout}
    plt.rcParams.update(
        {
            "svg.fonttype": "none",
            "svg.hashsalt": "brinebayes",
            "font.family": "sans-serif",
            "font.size": 9,
            "axes.spines.top": False,
            "axes.spines.right": False,
            "axes.linewidth": 0.7,
            "axes.edgecolor": INK,
            "xtick.color": INK,
            "ytick.color": INK,
        }
    )
    figure, axes = plt.subplots(figsize=(WIDTH, height), gridspec_kw=sizes or None, **layout)
    return plt, figure, axes


def _ends(figures: Sequence[Figure]) -> tuple[list[float], list[float], list[float]]:
    return (
        [one.value for one in figures],
        [one.low for one in figures],
        [one.high for one in figures],
    )


def _percent(axis: Any) -> None:
    from matplotlib.ticker import PercentFormatter

    axis.set_major_formatter(PercentFormatter(1.0, decimals=0, symbol=" %"))


def _svg(plt: Any, figure: Any, key: str) -> str:
    """The picture as an element of a page: no prolog, no date, ids of its own."""
    out = StringIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    figure.savefig(out, format="svg", metadata=nothing)
    plt.close(figure)
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    text = re.sub(r' (?:width|height)="[0-9.]+pt"', "", text, count=2)
    text = re.sub(r'\bid="', f'id="{key}-', text)
    text = re.sub(r"url\(#", f"url(#{key}-", text)
    text = re.sub(r'href="#', f'href="#{key}-', text)
    return text.strip()
