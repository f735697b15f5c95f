"""Round trip: learned, written, read again."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.cases.record import Case
from brinebayes.checking.ready import ready
from brinebayes.knowledge.difference import differences
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model
from brinebayes.knowledge.versions import write
from brinebayes.tuning.gather import Terms
from brinebayes.tuning.numbers import number_at, value_of
from brinebayes.tuning.tune import Tuning, tune
from brinebayes.tuning.write import edits
from tests.tuning.conftest import FOLDER


@pytest.fixture(scope="module")
def tuned(small: Model, visits: tuple[Case, ...]) -> Tuning:
    """All groups but the slowest."""
    groups = ("shares", "misreadings", "sites", "links")
    return tune(small, lambda: iter(visits), Terms("2026-06-01"), groups)


class TestEdits:
    """What is written is what was meant, and nothing else."""

    def test_read_again_it_is_exactly_the_numbers(self, tuned: Tuning, tmp_path: Path) -> None:
        target = tmp_path / "ours"
        write(FOLDER, target, edits(tuned, FOLDER), ready)
        found = read_model(target)
        changed = {one.entry.key: one for one in tuned.changes if not one.stays}
        assert {entry.file for entry in (one.entry for one in changed.values())} >= {
            "faults.yaml",
            "site.yaml",
            "mechanisms.yaml",
        }
        for key, one in changed.items():
            number = number_at(found, key)
            assert value_of(number)[1] == one.new
            assert number.basis == "learned"
            assert number.cases == max(1, round(one.cases))
            assert number.learned_on == tuned.sorted.last_day
        others = [d for d in differences(tuned.start, found) if d.path not in changed]
        assert [d.path for d in others] == [("about", "version")]

    def test_only_the_lines_of_these_numbers_differ(self, tuned: Tuning, tmp_path: Path) -> None:
        target = tmp_path / "ours"
        write(FOLDER, target, edits(tuned, FOLDER), ready)
        changed = sum(not one.stays for one in tuned.changes) + 1
        differing = added = 0
        for file in sorted(FOLDER.glob("*.yaml")):
            before = file.read_text().splitlines()
            after = (target / file.name).read_text().splitlines()
            added += len(after) - len(before)
            differing += len(set(after) - set(before))
            comments = [line for line in before if line.lstrip().startswith("#")]
            assert comments == [line for line in after if line.lstrip().startswith("#")]
        # Numbers stand on one line each; the one that is spread over lines gets two more.
        assert differing <= changed + 5 * (added > 0) + added
        assert added <= 6

    def test_a_note_says_what_was_held_before(self, tuned: Tuning, tmp_path: Path) -> None:
        target = tmp_path / "ours"
        write(FOLDER, target, edits(tuned, FOLDER), ready)
        share = read_model(target).faults["seals_worn"].share
        assert share.note.startswith("0.2 before the cases (judgement): invented")
