"""Everything a reader of a model should know: what is wrong with it, and the figures behind it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from brinebayes.checking.examine import Examined, examine
from brinebayes.checking.provenance import per_basis
from brinebayes.checking.remark import Places
from brinebayes.checking.second_opinion import second_opinion
from brinebayes.knowledge.schema import Model
from brinebayes.network import odds
from brinebayes.network.build import build
from brinebayes.network.tables import Network
from brinebayes.record import record


@record
class Size:
    """The network of the first epoch, and the tree compiled from all of it that can be seen."""

    variables: int
    largest_given_table: int
    largest_table: int
    total_entries: int


@record
class Report:
    """What `model check` shows. `errors` and `warnings` are lines with file, line and field.

    `numbers`: basis -> how many numbers stand on it. `share_off`: the largest difference between a
    stated share and P(fault | a call). `calls`: share of calls with 0, 1, 2, 3 or more faults.
    `alike`: groups of faults that nothing tells apart, whatever repairs them.
    """

    model_id: str
    version: str
    hash: str
    errors: tuple[str, ...]
    warnings: tuple[str, ...]
    numbers: dict[str, int]
    stated: dict[str, float]
    found: dict[str, float]
    share_off: float | None
    calls: tuple[float, ...]
    alike: tuple[tuple[str, ...], ...]
    size: Size | None
    pgmpy: str

    def to_object(self) -> dict[str, Any]:
        """The same as plain data, for JSON."""
        return asdict(self)

    def to_text(self) -> str:
        """The same for a reader."""
        return "\n".join([*_heading(self), *_figures(self), *_findings(self)]) + "\n"


def report(model: Model, folder: Path | None = None) -> Report:
    """Examine a model; with the folder it was read from, findings name file and line."""
    from brinebayes.knowledge.hashing import model_bytes

    found = examine(model)
    places = Places(model_bytes(folder) if folder is not None else None)
    by_severity = {
        severity: tuple(
            map(str, places.problems(r for r in found.remarks if r.severity == severity))
        )
        for severity in ("error", "warning")
    }
    network = None if found.exact is None else build(model, {}).network
    stated = found.shares.stated if found.shares else {}
    given = found.shares.found if found.shares else {}
    return Report(
        model_id=model.about.id,
        version=model.about.version,
        hash=model.hash,
        errors=by_severity["error"],
        warnings=by_severity["warning"],
        numbers=per_basis(model),
        stated=dict(stated),
        found=dict(given),
        share_off=max((abs(given[name] - stated[name]) for name in stated), default=None),
        calls=odds.fault_counts(model, {}) if found.shares else (),
        alike=found.alike,
        size=None if network is None else _size(found, network),
        pgmpy="not asked" if network is None else second_opinion(network),
    )


def _size(found: Examined, network: Network) -> Size | None:
    if found.exact is None:
        return None
    tree = found.exact.alone
    return Size(
        variables=len(network.variables),
        largest_given_table=max(table.values.size for table in network.tables),
        largest_table=tree.largest,
        total_entries=tree.entries,
    )


# --- for a reader ------------------------------------------------------------------------------


def _heading(found: Report) -> list[str]:
    state = "refused" if found.errors else "holds"
    counted = f"{len(found.errors)} errors, {len(found.warnings)} warnings"
    return [f"Model {found.model_id} {found.version} ({found.hash[:12]}) {state}: {counted}."]


def _figures(found: Report) -> list[str]:
    total = sum(found.numbers.values())
    shares = ", ".join(
        f"{basis.replace('_', ' ')} {count} ({count / total:.0%})"
        for basis, count in found.numbers.items()
        if count
    )
    lines = ["", f"Numbers: {total}, each with a basis: {shares}."]
    if found.size is not None:
        lines.append(
            f"Network: {found.size.variables} variables, largest given table"
            f" {found.size.largest_given_table} entries; compiled {found.size.total_entries}"
            f" entries, largest table {found.size.largest_table}."
        )
        none, one, two, more = found.calls
        lines.append(
            f"Faults per call: none {none:.1%}, one {one:.1%}, two {two:.1%},"
            f" three or more {more:.1%}."
        )
        lines += _shares(found)
    lines.append(f"Second opinion on the network (pgmpy): {found.pgmpy}.")
    for group in found.alike:
        lines.append(f"Nothing tells apart: {', '.join(group)}.")
    return lines


def _shares(found: Report) -> list[str]:
    width = max(map(len, found.stated))
    lines = [
        f"P(fault | a call) against the stated share, largest difference {found.share_off:.1e}:"
    ]
    for name in sorted(found.stated, key=lambda each: (-found.stated[each], each)):
        lines.append(f"  {name:<{width}}  {found.found[name]:8.4%}  {found.stated[name]:8.4%}")
    return lines


def _findings(found: Report) -> list[str]:
    lines: list[str] = []
    for title, each in (("Errors", found.errors), ("Warnings", found.warnings)):
        if each:
            lines += ["", f"{title}:", *(f"  {line}" for line in each)]
    return lines
