"""`brinebayes next` with numbers: what they were taken to mean, and what bad ones meet."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.absent import imported_by_next

Run = Callable[..., Any]

LOW = ("--site", "tank_diameter=10 in", "--reading", "backwash_at_drain=0.6 gpm")


def ask(run: Run, *line: str) -> dict[str, Any]:
    """The JSON answer of a question to the shipped model."""
    ran = run("next", *line, "--json")
    assert ran.code == 0, ran.err
    answer: dict[str, Any] = json.loads(ran.out)
    return answer


def chances(answer: dict[str, Any]) -> dict[str, float]:
    return {fault["id"]: fault["probability"] for fault in answer["faults"]}


class TestAnswer:
    """The object that programs read."""

    def test_a_reading_with_its_arithmetic(self, run: Run) -> None:
        """22 % of 2.73 gpm: a 10 in tank has 0.5454 ft2 of bed at 5 gpm/ft2 [common practice]."""
        (reading,) = ask(run, *LOW)["readings"]
        assert reading["observation"] == "backwash_at_drain"
        assert reading["text"] == "0.6 gpm"
        assert reading["value"] == pytest.approx(0.6)
        assert reading["expected"] == pytest.approx(2.727, abs=0.001)
        assert reading["unit"] == "gpm"
        assert reading["ratio"] == pytest.approx(0.22, abs=0.001)
        assert reading["says"] == "0.6 gpm is 22 % of the 2.7 gpm expected: low"
        assert any("5 gpm per ft²" in step for step in reading["steps"])
        assert reading["likelihood"]["low"] == 1.0
        assert (reading["outcome"], reading["clear"], reading["used"]) == ("low", True, True)
        assert reading["challenge"] is None

    def test_no_reading_is_an_empty_list(self, run: Run) -> None:
        assert ask(run)["readings"] == []

    def test_a_clear_number_says_what_its_outcome_says(self, run: Run) -> None:
        number = chances(ask(run, *LOW))
        word = chances(ask(run, "--saw", "backwash_at_drain=low"))
        assert number == pytest.approx(word, abs=1e-3)

    def test_the_size_of_the_tank_may_come_later(self, run: Run) -> None:
        assert chances(ask(run, *LOW)) == chances(ask(run, *LOW[2:], *LOW[:2]))

    def test_a_number_before_a_repair_speaks_of_before(self, run: Run) -> None:
        repair = ("--done", "clean_drain_control")
        (before,) = ask(run, *LOW, *repair)["readings"]
        (after,) = ask(run, *repair, *LOW)["readings"]
        assert (before["after_repairs"], after["after_repairs"]) == (0, 1)

    def test_what_was_taken_too_early_changes_nothing(self, run: Run) -> None:
        early = ("--reading", "level_in_draw=0.1 in in 2 min")
        answer = ask(run, "--complaint", "salt_unused", *early)
        (reading,) = answer["readings"]
        assert not reading["used"]
        assert "wait 5 minutes" in reading["challenge"]
        assert chances(answer) == chances(ask(run, "--complaint", "salt_unused"))

    def test_what_was_read_is_not_advised_again(self, run: Run) -> None:
        """Also where the number leaves the outcome open: the same bucket says no more."""
        answer = ask(run, "--reading", "backwash_line_off=2 gpm")
        assert not answer["readings"][0]["clear"]
        acts = [act["id"] for act in (answer["next"], *answer["others"])]
        assert "line_off_backwash" not in acts

    def test_a_check_with_more_to_see_stays_open(self, run: Run) -> None:
        """The bucket was read; what the water carries was not looked at."""
        answer = ask(run, "--reading", "backwash_at_drain=2 gpm")
        acts = [act["id"] for act in (answer["next"], *answer["others"])]
        assert "bucket_backwash" in acts


class TestText:
    """One line per reading on the screen."""

    def test_what_it_was_taken_to_mean(self, run: Run) -> None:
        out = run("next", *LOW).out
        assert "= backwash_at_drain: 0.6 gpm is 22 % of the 2.7 gpm expected: low\n" in out
        assert max(map(len, out.splitlines())) <= 80

    def test_what_to_tell_stands_with_it(self, run: Run) -> None:
        words = " ".join(run("next", "--reading", "backwash_at_drain=2 gpm").out.split())
        assert "not told: tank_diameter" in words

    def test_a_challenge_stands_where_a_reading_would(self, run: Run) -> None:
        words = " ".join(run("next", "--reading", "level_in_draw=0.1 in in 2 min").out.split())
        assert "? level_in_draw: 0.1 in in 2 min was taken too early; wait 5 minutes" in words


class TestBadInput:
    """One clear line on standard error, nothing on standard output, exit code 2."""

    @pytest.mark.parametrize(
        ("line", "words"),
        [
            (["--reading", "backwash_at_drain=2 psi"], "write a number with one of these units"),
            (["--reading", "static_pressure=2 gpm"], "gpm is a flow, and this is a pressure"),
            (["--reading", "backwash_at_drain=0,6 gpm"], "no comma: 0.6"),
            (["--reading", "backwash_at_drain=-1 gpm"], "cannot be negative"),
            (["--reading", "backwash_at_drain=about 2"], "write a plain number and its unit"),
            (["--reading", "backwash_at_drain=200 gpm"], "200 gpm is more than 40 gpm"),
            (["--reading", "backwash_at_drain=2"], "one of these units: gpm"),
            (["--reading", "backwash_at_drain"], 'write it as --reading "OBSERVATION=0.6 gpm"'),
            (["--reading", "backwash_at_drian=2 gpm"], "did you mean backwash_at_drain?"),
            (["--reading", "bubbles=2 gpm"], "is not read as a number; say one of none_seen"),
            (["--site", "tank_diameter=10 kg"], "kg is a mass, and this is a length"),
            (["--site", "tank_diameter=400 in"], "is not between 5 and 24 in"),
            (["--site", "tank_diametre=10 in"], "did you mean tank_diameter?"),
            (["--site", "level_zone=mud"], "is none of its words"),
        ],
    )
    def test_the_line(self, run: Run, line: list[str], words: str) -> None:
        ran = run("next", *line)
        assert ran.code == 2
        assert ran.err.count("\n") == 1
        assert words in ran.err
        assert ran.out == ""


class TestProcess:
    """What only a real process shows."""

    def test_three_readings_import_nothing_heavy(self, tmp_path: Path) -> None:
        """What the sums themselves are tested with stays away too."""
        line = [
            *("--site", "tank_diameter=10 in", "--site", "brine_tank_diameter=18 in"),
            *("--reading", "backwash_at_drain=2.6 gpm", "--reading", "brine_sg=1.19 SG"),
            *("--reading", "level_in_draw=0.5 in in 10 min", "--json"),
        ]
        imported_by_next(tmp_path, *line)
        imported, out = imported_by_next(tmp_path, *line)
        assert imported == []
        assert len(json.loads(out)["readings"]) == 3
