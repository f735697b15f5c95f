"""Cases for a reader: one line each in a list, and one of them in full."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from brinebayes.cases.log import Added, Revision
from brinebayes.cases.record import Case
from brinebayes.visit.events import CutOff, Event, ModelIs
from brinebayes.visit.record import event_row
from brinebayes.wording.fill import fill, templates
from brinebayes.wording.lines import wrapped


def words() -> dict[str, Any]:
    """The templates of this room."""
    found: dict[str, Any] = templates()["cases"]
    return found


def line(case: Case) -> str:
    """One line: when, what was said, how it ended, what was found."""
    found = ", ".join(one.fault for one in case.confirmed) or words()["nothing_found"]
    said = ", ".join(case.complaints) or words()["nothing_said"]
    mark = f" [{words()['invented']}]" if case.invented else ""
    end = templates()["visit"]["ends"][case.ended]
    return f"{case.closed}  {case.id}{mark}  {said}; {end}; {found}"


def text(case: Case, history: tuple[Revision, ...]) -> str:
    """A case in full, with the days on which it was changed."""
    told = words()
    lines = [line(case), ""]
    for field in ("job", "unit", "technician"):
        if getattr(case, field):
            lines.append(f"  {told[field]:<12} {getattr(case, field)}")
    lines.append(
        f"  {told['model']:<12} {case.model.id} {case.model.version} {case.model.hash[:8]}"
    )
    lines.append(f"  {told['call_back']:<12} {told['call_backs'][case.call_back]}")
    for one in case.confirmed:
        sure = fill(told["sure"], {"how": told["hows"][one.how], "sure_share": one.sure})
        lines.append(f"  {told['found']:<12} {one.fault}: {sure}")
    for field in ("proven", "pending"):
        if getattr(case, field):
            lines.append(f"  {told[field]:<12} {', '.join(getattr(case, field))}")
    for step in case.steps:
        if isinstance(step.event, ModelIs | CutOff):
            continue
        minutes = "" if step.minutes is None else f"{step.minutes:.0f} min"
        lines.append(f"  {minutes:>12} {_event(step.event)}")
    lines += [fill(told["revision"], {"n": str(r.number), "at": r.added}) for r in history[1:]]
    return "\n".join(lines) + "\n"


def kept(added: Added) -> str:
    """That a visit has become a case; nothing if it was one already."""
    ids = (*added.new, *added.revised)
    lines = [line for id in ids for line in wrapped("", fill(words()["kept"], {"id": id}))]
    return "\n".join(["", *lines]) + "\n" if lines else ""


def not_kept(path: str, error: Exception) -> str:
    """That it has not, and what to do."""
    return fill(words()["not_kept"], {"why": f"{error}.", "path": path})


def added_text(added: Added) -> str:
    """How many cases were added, were there already, or got a further revision."""
    counts = {
        name: str(len(ids))
        for name, ids in (("new", added.new), ("same", added.same), ("revised", added.revised))
    }
    return fill(words()["added"], counts) + "\n"


def imported_text(added: Added, problems: tuple[str, ...], kept: str, dry_run: bool) -> str:
    """What came of an import: every problem, then the counts."""
    lines = [*problems, added_text(added).rstrip("\n")]
    if kept:
        lines.append(fill(words()["rejected"], {"path": kept}))
    if dry_run:
        lines.append(words()["dry_run"])
    return paragraphs(lines)


def paragraphs(lines: Iterable[str]) -> str:
    """Problems, one below the other; never broken, so that other tools can find their places."""
    return "".join(f"{line}\n" for one in lines for line in one.splitlines())


def _event(event: Event) -> str:
    row = event_row(event)
    kind = row.pop("event")
    return " ".join([kind, *(_word(value) for value in row.values() if value)])


def _word(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{name}={what}" for name, what in value.items())
    return ", ".join(value) if isinstance(value, list) else str(value)
