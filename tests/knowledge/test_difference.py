"""In what two models differ."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from brinebayes.knowledge.difference import differences
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.versions import write

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


class TestDifferences:
    """Numbers, words, and what is there or not."""

    def test_none(self) -> None:
        model = read_model(SMALL)
        assert differences(model, replace(model, hash="other")) == ()

    def test_a_number_and_a_word(self, tmp_path: Path) -> None:
        ours = tmp_path / "ours"
        edits = {
            "faults.yaml": {
                ("faults", "seals_worn", "share", "value"): 0.3,
                ("faults", "seals_worn", "name"): "Seals",
            }
        }
        write(SMALL, ours, edits, read_model)
        found = differences(read_model(SMALL), read_model(ours))
        assert [(one.path, one.is_number) for one in found] == [
            (("faults", "seals_worn", "name"), False),
            (("faults", "seals_worn", "share"), True),
        ]

    def test_what_only_one_of_them_has(self) -> None:
        model = read_model(SMALL)
        rules = dict(model.rules)
        name = next(iter(rules))
        gone = rules.pop(name)
        (found,) = differences(model, replace(model, rules=ReadOnly(rules)))
        assert (found.path, found.before, found.after) == (("rules", name), gone, None)
