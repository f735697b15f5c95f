"""What a typed line means."""

from __future__ import annotations

from pathlib import Path

import pytest

from brinebayes.dialogue.commands import ALONE, WITH_REST, Answer, Command, Nothing, Unknown, parse
from brinebayes.dialogue.prompt import Option
from brinebayes.knowledge.reading import read_model
from brinebayes.knowledge.shipped import model_folder
from brinebayes.visit.state import observations_of
from brinebayes.wording.screen import words
from tests.dialogue.drive import SMALL

OPTIONS = (Option("falls"), Option("static"), Option("part_missing:seal_kit"))


class TestParse:
    """Numbers, ids, commands with and without a rest, and everything else."""

    @pytest.mark.parametrize(
        ("line", "meaning"),
        [
            ("2", Answer("static")),
            (" 1 \n", Answer("falls")),
            ("FALLS", Answer("falls")),
            ("part_missing:seal_kit", Answer("part_missing:seal_kit")),
            ("", Nothing()),
            ("  \n", Nothing()),
            ("undo", Command("undo")),
            ("Could Not", Command("could not")),
            ("couldn't", Command("could not")),
            ("?", Command("help")),
            ("saw level = falls", Command("saw", "level = falls")),
            ("note  Don't  run it", Command("note", "Don't run it")),
            ("part missing seal_kit", Command("part missing", "seal_kit")),
            ("part missing", Command("part missing")),
            ("pass on the plumber", Command("pass on", "the plumber")),
            ("done", Command("done")),
            ("0", Unknown("0", "")),
            ("4", Unknown("4", "")),
            ("-1", Unknown("-1", "")),
            ("statik", Unknown("statik", " (did you mean static?)")),
            ("thnik", Unknown("thnik", " (did you mean think?)")),
            ("undo that", Unknown("undo that", " (did you mean undo?)")),
        ],
    )
    def test_lines(self, line: str, meaning: object) -> None:
        assert parse(line, OPTIONS) == meaning


class TestNames:
    """Commands, answers and help do not get in each other's way."""

    @pytest.mark.parametrize("folder", [SMALL, model_folder()])
    def test_no_answer_of_a_model_is_called_like_a_command(self, folder: Path) -> None:
        model = read_model(folder)
        outcomes = {name for _, names in observations_of(model).values() for name in names}
        values = {name for condition in model.site.values() for name in condition.values}
        taken = {*ALONE, *(name for name in WITH_REST)}
        assert not taken & (outcomes | values | set(model.complaints))

    def test_help_tells_of_every_command(self) -> None:
        told = " ".join(f"{word} {what}" for word, what in words()["help"])
        assert [name for name in (*WITH_REST, *ALONE) if name not in told] == []
