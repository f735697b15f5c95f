"""Small models made for one lesson each, and cases told in their words."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

from brinebayes.errors import ModelError
from brinebayes.knowledge import schema
from brinebayes.network import graph, odds
from brinebayes.tuning.chunk import Chunk, chunk
from brinebayes.tuning.told import Told

#: Without prior weight the cases alone decide.
NOTHING = 0.0


def number(value: float, weight: float = NOTHING) -> schema.Number:
    """A number worth so many cases."""
    return schema.Number(value, "judgement", weight, "made for a test")


def spread(of: Mapping[str, float], weight: float = NOTHING) -> schema.Spread:
    """A spread worth so many cases."""
    return schema.Spread(dict(of), "judgement", weight, "made for a test")


def row(when: schema.Condition, of: Mapping[str, float], weight: float = NOTHING) -> schema.Row:
    """A row of an observation."""
    return schema.Row(when, spread(of, weight))


def observation(
    outcomes: Sequence[str], rows: Sequence[schema.Row], misreading: schema.Number | None = None
) -> schema.Observation:
    """An observation that is never misread unless said."""
    words = dict.fromkeys(outcomes, "made")
    return schema.Observation("o", "?", words, tuple(rows), misreading or number(0.0))


def model(
    shares: Mapping[str, schema.Number],
    without: schema.Number,
    observations: Mapping[str, schema.Observation],
    mechanisms: Mapping[str, schema.Mechanism] | None = None,
    site: Mapping[str, schema.SiteCondition] | None = None,
    repairs: Mapping[str, schema.Repair] | None = None,
) -> schema.Model:
    """A model of a unit with these parts; it works when its mechanisms are in their best state."""
    faults = {name: schema.Fault(name, "g", share, "made") for name, share in shares.items()}
    check = schema.Check("k", number(1), number(0), "technician", dict(observations), "made")
    mechanisms = mechanisms or {}
    about = schema.About(
        "made",
        "made",
        "1",
        "EUR",
        "made",
        without,
        list(shares)[-1],
        {name: one.states[0] for name, one in mechanisms.items()},
        schema.Money(*(number(1) for _ in range(5))),
        schema.Proof("p", "how", number(5), number(5), number(0.95), number(0.1), {}),
    )
    body = (about, site or {}, faults, mechanisms, {"look": check}, repairs or {})
    return schema.Model(
        hash=hashlib.sha256(repr(body).encode()).hexdigest(),
        about=about,
        site=site or {},
        faults=faults,
        mechanisms=mechanisms,
        checks={"look": check},
        parts={},
        repairs=repairs or {},
        setups=schema.Setups({}, {}, {}),
        rules={},
        complaints={},
        sources={},
    )


def saw(model: schema.Model, seen: Mapping[str, str]) -> Told:
    """A case in which these outcomes (states of faults too) were seen, and nothing else."""
    findings = []
    for name, outcome in sorted(seen.items()):
        states = graph.states_of(model, name)
        findings.append((name, tuple(float(state == outcome) for state in states)))
    return Told(findings=tuple(findings))


def in_one_chunk(model: schema.Model, cases: Sequence[tuple[Told, float]]) -> Chunk:
    """All cases at once."""
    return chunk(model, cases)


def names_of(cases: Sequence[tuple[Told, float]]) -> set[str]:
    """Everything that the cases speak of."""
    return {name for told, _ in cases for name, _ in told.findings}


def has_odds(model: schema.Model) -> bool:
    """Whether independent faults can have the shares of a generated model."""
    try:
        odds.base(model)
    except ModelError:
        return False
    return True
