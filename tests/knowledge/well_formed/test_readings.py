"""What two files say of one measure must fit together."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import get_args

import pytest

from brinebayes.errors import ModelError, Problem
from brinebayes.knowledge.measuring import COMPARISONS, INSTRUMENTS
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.schema import Comparison, Instrument

SMALL = Path(__file__).parents[2] / "models" / "small"


def problems(folder: Path) -> tuple[Problem, ...]:
    with pytest.raises(ModelError) as caught:
        read_model(folder)
    return caught.value.problems


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("  raw_hardness:\n", "  rare_hardness:\n", "needs the measure raw_hardness in site.yaml"),
        ("unit: gpg", "unit: psi", "as a concentration; in site.yaml it is a pressure"),
    ],
)
def test_the_method_is_refused_at_its_comparison(
    tmp_path: Path, old: str, new: str, says: str
) -> None:
    folder = Path(shutil.copytree(SMALL, tmp_path / "small"))
    path = folder / "site.yaml"
    path.write_text(path.read_text("utf-8").replace(old, new), "utf-8")
    (problem,) = problems(folder)
    assert problem.file == "checks.yaml"
    assert problem.field.endswith("outlet_hardness.reading.compare")
    assert says in problem.says


def test_told_in_words_where_a_number_is_needed(tmp_path: Path) -> None:
    """The measures change their names, so that the one with words stands for the hardness."""
    folder = Path(shutil.copytree(SMALL, tmp_path / "small"))
    path = folder / "site.yaml"
    text = path.read_text("utf-8").replace("  raw_hardness:\n", "  other_hardness:\n")
    path.write_text(text.replace("  level_zone:\n", "  raw_hardness:\n"), "utf-8")
    (problem,) = problems(folder)
    assert "needs raw_hardness told in numbers" in problem.says


def test_a_model_without_measures_is_whole(tmp_path: Path) -> None:
    """Neither measures nor methods of reading are asked of a model."""
    folder = Path(shutil.copytree(SMALL, tmp_path / "small"))
    site, checks = folder / "site.yaml", folder / "checks.yaml"
    site.write_text(site.read_text("utf-8").partition("measures:")[0], "utf-8")
    before, _, after = checks.read_text("utf-8").partition("        reading:\n")
    checks.write_text(before + after[after.index("  draw_test:") :], "utf-8")
    assert read_model(folder).measures == {}


def test_every_word_of_the_schema_has_its_row() -> None:
    assert set(INSTRUMENTS) == set(get_args(Instrument))
    assert set(COMPARISONS) == set(get_args(Comparison))
