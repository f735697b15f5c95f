"""How a visit can end."""

from __future__ import annotations

PROVEN = "proven"
PENDING = "repaired_proof_pending"
ESCALATED = "escalated"
OUTSIDE = "not_a_softener_fault"
OPEN = "second_visit_needed"

ENDS = (PROVEN, PENDING, ESCALATED, OUTSIDE, OPEN)
