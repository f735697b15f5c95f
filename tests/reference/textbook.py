"""Decision problems of textbooks as models of a unit.

One unit of money a minute, so that minutes are costs. Causes that exclude each other are nearly so:
faults are independent before the call, and shares that sum to hardly more than one leave hardly
any room for two (`APART`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace

from brinebayes.knowledge.frozen import freeze
from brinebayes.knowledge.schema import (
    About,
    Cause,
    Check,
    CheckedModel,
    Fault,
    Mechanism,
    Model,
    Money,
    Observation,
    Proof,
    Repair,
    Row,
    Setups,
    SetupVariable,
)
from tests.decisions.families import number, spread

#: By how much, as a part, the shares of causes that exclude each other are too large.
APART = 1e-6

Rows = Sequence[tuple[Mapping[str, str], Mapping[str, float]]]


def textbook(
    causes: Mapping[str, float],
    *,
    without: float = 0.0,
    fails: Mapping[str, float] | None = None,
    checks: Mapping[str, tuple[float, Rows]] | None = None,
    repairs: Mapping[str, tuple[float, Mapping[str, float]]] | None = None,
    second_visit: float = 1e6,
    escalation: float = 1e6,
) -> CheckedModel:
    """Causes and their shares; the chance that the unit fails with a cause (1 if not named);
    checks and repairs with their costs. The proof is free and never wrong."""
    fails = fails or {}
    found = []
    for name in causes:
        chance = fails.get(name, 1.0)
        found.append(Cause({name: "present"}, spread({"fine": 1.0 - chance, "poor": chance})))
    model = Model(
        hash="",
        about=About(
            id="textbook",
            name="textbook",
            version="1",
            currency="EUR",
            note="of a textbook",
            calls_without_fault=number(without),
            unknown_cause=list(causes)[-1],
            works={"state": "fine"},
            money=Money(number(1), number(1), number(second_visit), number(escalation), number(0)),
            proof=Proof("proof", "how", number(0), number(0), number(1), number(0), {}),
        ),
        site={},
        faults={
            name: Fault(name, "textbook", number(share * (1.0 + APART)), "cause")
            for name, share in causes.items()
        },
        mechanisms={"state": Mechanism("state", ("fine", "poor"), "", tuple(found))},
        checks={
            name: Check(
                name=name,
                minutes=number(cost),
                waiting_minutes=number(0),
                who="technician",
                observations={f"{name}_shows": _observation(rows)},
                how="",
            )
            for name, (cost, rows) in (checks or {}).items()
        },
        parts={},
        repairs={
            name: Repair(
                name=name,
                kind="R1",
                minutes=number(cost),
                who="technician",
                how="",
                clears={fault: number(chance) for fault, chance in clears.items()},
                same_luck=False,
            )
            for name, (cost, clears) in (repairs or {}).items()
        },
        setups=Setups(
            {"at": SetupVariable("place", {"ready": "ready"}, "ready", "ready", "ready")}, {}, {}
        ),
        rules={},
        complaints={},
        sources={},
    )
    named = replace(model, hash=hashlib.sha256(repr(model).encode()).hexdigest())
    return CheckedModel(freeze(named), ())


def _observation(rows: Rows) -> Observation:
    outcomes = dict.fromkeys((outcome for _, of in rows for outcome in of), "shown")
    told = tuple(Row(when, spread(of)) for when, of in rows)
    return Observation("shows", "what is shown", outcomes, told, number(0))
