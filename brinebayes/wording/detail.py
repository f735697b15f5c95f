"""The numbers behind an answer: what each observation weighed, and how sure the comparison is."""

from __future__ import annotations

from math import isfinite
from typing import Any

from brinebayes.advice.advise import Advice
from brinebayes.advice.sureness import Contrast, Decision, Sampling, Sureness
from brinebayes.advice.weights import Evidence
from brinebayes.knowledge.schema import Model
from brinebayes.wording.fill import fill, money, templates
from brinebayes.wording.lines import wrapped


def detail(model: Model, advice: Advice, evidence: Evidence, sure: Sureness) -> str:
    """What `--detail` adds to the answer."""
    parts = (
        _weights(model, evidence),
        _against(model, sure.contrast),
        _change(model, sure.decision),
        _follows(model, sure),
        _comparison(model, advice, sure.sampling),
    )
    return "".join("\n" + "\n".join(lines) + "\n" for lines in parts if lines)


def to_object(evidence: Evidence, sure: Sureness) -> dict[str, Any]:
    """The same for programs: `detail` of `next --json --detail`. Money, chances and decibans are
    unrounded."""
    contrast, sampling, decision = sure.contrast, sure.sampling, sure.decision
    return {
        "weights": {
            "faults": list(evidence.faults),
            "before": [_number(value) for value in evidence.before],
            "told": [
                {"what": one.what, "decibans": [_number(value) for value in one.decibans]}
                for one in evidence.weights
            ],
            "now": [_number(value) for value in evidence.now],
        },
        "runner_up": contrast
        and {
            "id": contrast.other.act.id,
            "costs_more": contrast.whole,
            "direct": contrast.direct,
            "setup": contrast.setup,
            "information": contrast.information,
        },
        "repair_if_chosen_now": {
            "id": decision.repair or None,
            "works": decision.works,
            "probability": decision.chance,
            "changed_by_next_check": decision.by_this,
        },
        "following": [
            {
                "observation": one.observation,
                "outcome": one.outcome,
                "probability": one.probability,
                "next": one.next.act.id,
                "expected_cost_to_end": one.next.expected_cost,
            }
            for one in sure.following
        ],
        "sampling": sampling
        and {
            "draws": sampling.draws,
            "cost_sd": sampling.cost,
            "lead_sd": sampling.lead,
            "same_act": sampling.same,
        },
    }


def _number(value: float) -> float | None:
    """Infinite decibans are null in JSON: it can never be, or it is certain."""
    return value if isfinite(value) else None


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


def _against(model: Model, contrast: Contrast | None) -> list[str]:
    if contrast is None:
        return []
    words = templates()["detail"]
    parts = ("whole", "direct", "setup", "information")
    values = {part: _signed(getattr(contrast, part), model.about.currency) for part in parts}
    values["whole"] = f"{contrast.whole:.1f} {model.about.currency}"
    values["other"] = contrast.other.act.name
    return [words["against"], *wrapped("  ", fill(words["contrast"], values))]


def _signed(value: float, currency: str) -> str:
    return f"{value:+.1f} {currency}"


def _change(model: Model, decision: Decision) -> list[str]:
    words = templates()["detail"]
    values: dict[str, str | float] = {
        "chance_share": decision.chance,
        "by_all_share": 1.0 - decision.chance,
    }
    kind = "decision_works" if decision.works else "decision_none"
    if decision.repair:
        kind, values["repair"] = "decision", model.repairs[decision.repair].name
    lines = [words["change"], *wrapped("  ", fill(words[kind], values))]
    if decision.by_this is None:
        return [*lines, *wrapped("  ", fill(words["by_all"], values))]
    values["by_this_share"] = decision.by_this
    return [*lines, *wrapped("  ", fill(words["by_this"], values))]


def _follows(model: Model, sure: Sureness) -> list[str]:
    words, currency = templates()["detail"], model.about.currency
    lines, last = [], ""
    for one in sure.following:
        if one.observation != last:
            lines += wrapped("  ", f"{one.observation}:")
            last = one.observation
        values: dict[str, str | float] = {
            "outcome": one.outcome,
            "chance_share": one.probability,
            "act": one.next.act.name,
            "cost": money(one.next.expected_cost, currency),
        }
        lines += wrapped("    = ", fill(words["follow"], values))
    return [words["follows"], *lines] if lines else []


def _comparison(model: Model, advice: Advice, sampling: Sampling | None) -> list[str]:
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
    if sampling is not None:
        noise = {
            "draws": str(sampling.draws),
            "off": f"{sampling.cost:.1f} {currency}",
            "lead_off": f"{sampling.lead:.1f} {currency}",
            "same": str(sampling.same),
        }
        lines += wrapped("  ", fill(words["sampling"], noise))
    return lines
