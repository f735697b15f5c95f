"""Invented cases: guest houses round a harbour, and the one shop that looks after their units.

The cases stand in `cases/harbour.cases.jsonl`. After a change of the model or of these files they
are written anew, always the same for the same model:

    python -m tests.cases.harbour
"""
