"""The numbers behind an answer: what each observation weighed, and how sure the comparison is."""

from __future__ import annotations

from math import isfinite

from brinebayes.advice.advise import Advice
from brinebayes.advice.weights import Evidence
from brinebayes.knowledge.schema import Model
from brinebayes.wording.fill import fill, money, templates
from brinebayes.wording.lines import wrapped


def detail(model: Model, advice: Advice, evidence: Evidence) -> str:
    """What `--detail` adds to the answer."""
    return "\n".join(["", *_weights(model, evidence), "", *_comparison(model, advice)]) + "\n"


def _weights(model: Model, evidence: Evidence) -> list[str]:
    """One line for each fault, with a column for each and a row for each thing that was told."""
    words = templates()["detail"]
    lines = [words["weights"]]
    for number, name in enumerate(evidence.faults, 1):
        lines += wrapped(f"  {number}  ", model.faults[name].name)
    heads = "".join(f"{number:>8}" for number in range(1, len(evidence.faults) + 1))
    lines.append(f"{'':28}{heads}")
    lines.append(_row(words["before"], evidence.before))
    lines += [_row(one.what, one.decibans) for one in evidence.weights]
    lines.append(_row(words["now"], evidence.now))
    return lines


def _row(what: str, decibans: tuple[float, ...]) -> str:
    cells = (f"{value:+8.1f}" if isfinite(value) else f"{'never':>8}" for value in decibans)
    return f"  {what:<26}{''.join(cells)}"


def _comparison(model: Model, advice: Advice) -> list[str]:
    words, currency = templates()["detail"], model.about.currency
    best, rows = advice.next, advice.choice.effective_rows
    values = {
        "cost": money(best.expected_cost, currency),
        "least": money(best.lower, currency),
        "most": money(best.upper, currency),
        "beliefs": str(advice.choice.expansions),
        "rows": f"{rows:.0f}",
    }
    drawn = words["drawn" if isfinite(rows) else "all"]
    lines = [words["comparison"]]
    for template in (words["bounds"], words["search"], drawn):
        lines += wrapped("  ", fill(template, values))
    return lines
