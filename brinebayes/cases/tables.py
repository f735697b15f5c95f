"""The tables of the case log, and how an older log is brought to this version."""

from __future__ import annotations

import hashlib
import sqlite3

#: Names a SQLite file as a case log: "BBcl".
APPLICATION = 0x4242636C

#: Version 1 kept one line for each id. Version 2 keeps every revision with its digest.
VERSION = 2

#: `place` numbers the cases in the order in which they first came.
TABLES = """
CREATE TABLE cases (
    place INTEGER NOT NULL,
    id TEXT NOT NULL,
    revision INTEGER NOT NULL,
    line TEXT NOT NULL,
    digest TEXT NOT NULL,
    added TEXT NOT NULL,
    PRIMARY KEY (place, revision),
    UNIQUE (id, revision)
)
"""


def digest_of(line: str) -> str:
    """SHA-256 of a record, in hexadecimal."""
    return hashlib.sha256(line.encode()).hexdigest()


def migrate(base: sqlite3.Connection, version: int) -> None:
    """Bring the tables from `version` (0: none yet) to this one, in the caller's transaction."""
    if version == 0:
        base.execute(TABLES)
    elif version == 1:
        base.execute("ALTER TABLE cases RENAME TO cases_1")
        base.execute(TABLES)
        rows = base.execute("SELECT id, line, added FROM cases_1 ORDER BY rowid")
        for place, (id, line, added) in enumerate(rows, 1):
            row = (place, id, 1, line, digest_of(line), added)
            base.execute("INSERT INTO cases VALUES (?,?,?,?,?,?)", row)
        base.execute("DROP TABLE cases_1")
    base.execute(f"PRAGMA application_id = {APPLICATION}")
    base.execute(f"PRAGMA user_version = {VERSION}")
