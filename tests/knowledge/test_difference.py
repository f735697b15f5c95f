"""In what two models differ."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from brinebayes.knowledge.difference import differences, when_text
from brinebayes.knowledge.frozen import ReadOnly
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Model, Row
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

    def test_lines_of_a_table_are_known_by_what_they_hold_for(self) -> None:
        """A line put in front changes no other; two that change places are told as that."""
        model = read_model(SMALL)
        name, check = next(
            (name, check)
            for name, check in model.checks.items()
            if any(len(one.rows) > 1 for one in check.observations.values())
        )
        seen, about = next(pair for pair in check.observations.items() if len(pair[1].rows) > 1)
        first, second, *rest = about.rows

        def with_rows(*rows: Row) -> Model:
            observation = replace(about, rows=rows)
            changed = replace(
                check, observations=ReadOnly({**check.observations, seen: observation})
            )
            return replace(model, checks=ReadOnly({**model.checks, name: changed}))

        rows = ("checks", name, "observations", seen, "rows")
        (gone,) = differences(model, with_rows(second, *rest))
        assert (gone.path, gone.before, gone.after) == ((*rows, 0), first, None)
        assert gone.lines == {len(rows): when_text(first.when)}
        (turned,) = differences(model, with_rows(second, first, *rest))
        assert turned.path == (*rows, "order")
        assert turned.after[:2] == (when_text(second.when), when_text(first.when))

    def test_a_condition_is_told_as_the_file_has_it(self) -> None:
        assert when_text({"bed": ("poor", "spent"), "site": ("iron",)}) == (
            "{bed: [poor, spent], site: iron}"
        )
