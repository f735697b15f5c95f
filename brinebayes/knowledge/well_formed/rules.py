"""A rule names what exists, and has the fields that its kind uses and no others."""

from __future__ import annotations

from collections.abc import Iterator

from brinebayes.knowledge.names import suggest
from brinebayes.knowledge.schema import PROOF, Model, Rule
from brinebayes.knowledge.shape import Finding
from brinebayes.knowledge.well_formed.known import (
    CHECK,
    COMPLAINT,
    CONDITION,
    MOVE,
    OBSERVATION,
    REPAIR,
    Known,
)
from brinebayes.knowledge.well_formed.references import condition
from brinebayes.knowledge.well_formed.spots import RULES, Spot

#: Kind -> the fields it uses, each of which it needs, and what a field is for.
_USES = {
    "excludes": ("acts",),
    "settles": ("acts",),
    "first": ("acts", "until"),
    "doubts": ("acts",),
    "make_safe": (),
    "escalates": ("to",),
    "duty": (),
    "outside": (),
}
_FOR = {
    "acts": "the checks or repairs that it acts on",
    "until": "the observations that come first",
    "to": "the trade that it hands over to",
}


def findings(model: Model, known: Known) -> Iterator[Finding]:
    """Rules that name what does not exist, lack a field, or have one that does nothing."""
    for name, rule in model.rules.items():
        spot = RULES / name
        yield from _fields(spot, rule)
        yield from _basis(model, spot, rule)
        kinds = (OBSERVATION,) if rule.kind == "doubts" else (CHECK, REPAIR)
        yield from _list(known, spot / "acts", rule.acts, kinds)
        yield from _list(known, spot / "until", rule.until, (OBSERVATION,))
        yield from _list(known, spot / "moves", rule.moves, (MOVE,))
        if rule.moves and rule.kind != "make_safe":
            says = f"does nothing in a rule of the kind {rule.kind}; leave it out"
            yield (spot / "moves").says(says, on_key=True)
        when, at = rule.when, spot / "when"
        yield from condition(known, at / "saw", when.saw, (OBSERVATION,))
        yield from condition(known, at / "site", when.site, (CONDITION,))
        yield from _list(known, at / "not_seen", when.not_seen, (OBSERVATION,))
        yield from _list(known, at / "complaint", when.complaint, (COMPLAINT,))
        yield from _list(known, at / "done", when.done, (REPAIR,))
        if when.failed < 0:
            yield (at / "failed").says("how many proofs have failed: 0 or more")


def _fields(spot: Spot, rule: Rule) -> Iterator[Finding]:
    for field, purpose in _FOR.items():
        given, used = bool(getattr(rule, field)), field in _USES[rule.kind]
        if used and not given:
            what = "the observations that it doubts" if rule.kind == "doubts" else purpose
            yield spot.lacks(field, f"a rule of the kind {rule.kind} names {what}")
        if given and not used:
            says = f"does nothing in a rule of the kind {rule.kind}; leave it out"
            yield (spot / field).says(says, on_key=True)


def _basis(model: Model, spot: Spot, rule: Rule) -> Iterator[Finding]:
    if rule.basis == "published" and rule.source is None:
        yield spot.lacks("source", "a published rule names its source in sources.yaml")
    if rule.source is not None and rule.source not in model.sources:
        near = suggest(rule.source, model.sources)
        yield (spot / "source").says(f"there is no source {rule.source} in sources.yaml{near}")


def _list(
    known: Known, spot: Spot, names: tuple[str, ...], kinds: tuple[str, ...]
) -> Iterator[Finding]:
    for index, name in enumerate(names):
        refused = "" if name == PROOF and OBSERVATION in kinds else known.refuses(name, kinds)
        if refused:
            yield (spot / index).says(refused)
        if name in names[:index]:
            yield (spot / index).says(f"{name} is named twice")
