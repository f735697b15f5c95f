"""A model is refused with everything that is wrong, or handed out as checked."""

from __future__ import annotations

import pytest

from brinebayes.checking.proof import prove
from brinebayes.errors import ModelError
from brinebayes.knowledge.reading import read_bytes
from tests.checking.planted import Edit, edited, line_of, small

TWO_ERRORS = (
    Edit(
        "checks.yaml", "needs: {pressure: none, cover: off}", "needs: {pressure: full, cover: off}"
    ),
    Edit("setups.yaml", "needs: {flow: around, cover: on}", "needs: {flow: around}"),
)


class TestProve:
    """Only errors refuse; warnings go along."""

    def test_the_small_model(self) -> None:
        checked = prove(small())
        assert checked.model is small()
        assert any("cover is not known" in line for line in checked.findings)

    def test_every_error_is_told_with_its_place(self) -> None:
        files = edited(TWO_ERRORS)
        with pytest.raises(ModelError) as caught:
            prove(read_bytes(files), files)
        check, move = caught.value.problems
        line = line_of(files["checks.yaml"].decode(), "needs: {pressure: full, cover: off}")
        assert (check.file, check.line, check.field) == ("checks.yaml", line, "open_injector.needs")
        line = line_of(files["setups.yaml"].decode(), "    open_bypass:")
        assert (move.file, move.line, move.field) == ("setups.yaml", line, "moves.open_bypass")

    def test_without_the_files_it_names_the_file_and_the_field(self) -> None:
        with pytest.raises(ModelError, match=r"^checks\.yaml: open_injector\.needs: open_injector"):
            prove(read_bytes(edited(TWO_ERRORS)))
