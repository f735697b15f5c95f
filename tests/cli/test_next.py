"""`brinebayes next`: the answer, and what bad input meets."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from brinebayes.errors import BrinebayesError
from tests.cli.absent import imported_by_next

SMALL = str(Path(__file__).resolve().parent.parent / "models" / "small")
Run = Callable[..., Any]


def ask(run: Run, *line: str) -> dict[str, Any]:
    """The JSON answer of a question to the small model."""
    ran = run("next", "--model", SMALL, *line, "--json")
    assert ran.code == 0, ran.err
    answer: dict[str, Any] = json.loads(ran.out)
    return answer


class TestAnswer:
    """The object that programs read."""

    def test_its_fields(self, run: Run) -> None:
        answer = ask(run, "--complaint", "hard_water")
        assert answer["schema"] == "brinebayes.next.1"
        assert set(answer["model"]) == {"name", "version", "hash"}
        assert {
            "kind",
            "id",
            "name",
            "minutes",
            "cost",
            "bits",
            "reason",
            "route",
            "cautions",
        } <= set(answer["next"])
        assert answer["next"]["kind"] in {"check", "repair", "prove", "fetch", "finish", "escalate"}
        assert answer["contradiction"] is None

    def test_all_faults_highest_first(self, run: Run) -> None:
        chances = [fault["probability"] for fault in ask(run)["faults"]]
        assert len(chances) == 4
        assert chances == sorted(chances, reverse=True)
        assert all(0.0 <= chance <= 1.0 for chance in chances)

    def test_outcomes_of_each_observation_sum_to_one(self, run: Run) -> None:
        answer = ask(run, "--complaint", "hard_water", "--saw", "outlet_hardness=hard")
        sums: dict[str, float] = {}
        for item in answer["next"]["outcomes"]:
            sums[item["observation"]] = sums.get(item["observation"], 0.0) + item["probability"]
        assert sums
        assert all(total == pytest.approx(1.0, abs=1e-9) for total in sums.values())

    def test_the_same_question_gives_the_same_bytes(self, run: Run) -> None:
        line = ("next", "--model", SMALL, "--saw", "level=static", "--json")
        assert run(*line).out == run(*line).out

    def test_the_order_of_observations_does_not_matter(self, run: Run) -> None:
        one = ask(run, "--saw", "level=static", "--saw", "outlet_hardness=hard")
        two = ask(run, "--saw", "outlet_hardness=hard", "--saw", "level=static")
        assert one["next"]["id"] == two["next"]["id"]
        for a, b in zip(one["faults"], two["faults"], strict=True):
            assert a["id"] == b["id"]
            assert a["probability"] == pytest.approx(b["probability"], abs=1e-12)

    def test_the_order_of_a_repair_matters(self, run: Run) -> None:
        before = ask(run, "--saw", "level=static", "--done", "clean_injector")
        after = ask(run, "--done", "clean_injector", "--saw", "level=static")
        chance = {
            name: {fault["id"]: fault["probability"] for fault in answer["faults"]}
            for name, answer in (("before", before), ("after", after))
        }
        # a level that still stands after the cleaning speaks of the line
        assert chance["after"]["brine_line_blocked"] > chance["before"]["brine_line_blocked"] + 0.1

    def test_a_proof_that_passed_ends_the_visit(self, run: Run) -> None:
        answer = ask(
            run, "--saw", "level=static", "--done", "clean_injector", "--saw", "proof=passed"
        )
        assert answer["works"] > 0.9
        assert answer["next"]["kind"] == "finish"

    def test_after_a_repair_a_proof_is_among_the_acts(self, run: Run) -> None:
        answer = ask(run, "--saw", "injector_seen=dirty", "--done", "clean_injector")
        kinds = [answer["next"]["kind"], *(act["kind"] for act in answer["others"])]
        assert "prove" in kinds

    def test_an_act_that_opens_the_valve_carries_its_way_and_its_cautions(self, run: Run) -> None:
        answer = ask(run, "--complaint", "hard_water", "--saw", "outlet_hardness=hard")
        acts = [answer["next"], *answer["others"]]
        opened = next(act for act in acts if act["id"] == "open_injector")
        moves = [move["id"] for move in opened["route"]]
        assert moves.index("relieve_pressure") < moves.index("take_cover_off")
        assert "Never open the cover under pressure." in opened["cautions"]

    def test_what_the_technician_states_shortens_the_way(self, run: Run) -> None:
        safe = ["--setup", "flow=around", "--setup", "pressure=none"]
        plain = ask(run, "--saw", "outlet_hardness=hard")
        told = ask(run, "--saw", "outlet_hardness=hard", *safe)

        def way(answer: dict[str, Any]) -> int:
            acts = [answer["next"], *answer["others"]]
            return len(next(act for act in acts if act["id"] == "open_injector")["route"])

        assert way(told) < way(plain)

    def test_rules_that_fired_say_why(self, run: Run) -> None:
        answer = ask(run, "--complaint", "tank_overflows")
        assert answer["notes"][0]["kind"] == "make_safe"
        assert "bypass" in answer["notes"][0]["reason"]


class TestText:
    """One screen for a person."""

    def test_it_fits_eighty_columns_and_has_no_control_characters(self, run: Run) -> None:
        out = run("next", "--model", SMALL, "--complaint", "hard_water").out
        assert max(map(len, out.splitlines())) <= 80
        assert "\x1b" not in out

    def test_it_names_the_act_the_causes_and_the_other_ways(self, run: Run) -> None:
        out = run("next", "--model", SMALL, "--complaint", "hard_water").out
        for part in ("NEXT:", "takes", "why", "LIKELY CAUSES", "OTHER WAYS"):
            assert part in out

    def test_every_caution_of_the_object_stands_on_the_screen(self, run: Run) -> None:
        line = ("--saw", "level=static", "--saw", "suction_felt=weak")
        answer = ask(run, *line)
        words = " ".join(run("next", "--model", SMALL, *line).out.split())
        assert answer["next"]["cautions"]
        for caution in answer["next"]["cautions"]:
            assert " ".join(caution.split()) in words

    def test_detail_adds_the_weights_and_the_bounds(self, run: Run) -> None:
        line = ("next", "--model", SMALL, "--complaint", "hard_water", "--saw", "level=static")
        plain, numbers = run(*line).out, run(*line, "--detail").out
        assert numbers.startswith(plain)
        added = numbers.removeprefix(plain)
        assert "WEIGHT OF EVIDENCE" in added
        assert "  level " in added
        assert max(map(len, numbers.splitlines())) <= 80

    def test_detail_stands_in_the_json_too(self, run: Run) -> None:
        behind = ask(run, "--complaint", "hard_water", "--detail")["detail"]
        runner_up = behind["runner_up"]
        parts = sum(runner_up[part] for part in ("direct", "setup", "information"))
        assert parts == pytest.approx(runner_up["costs_more"])
        assert behind["following"]
        assert behind["sampling"] is None

    def test_thorough_looks_at_more_beliefs(self, run: Run) -> None:
        little = ask(run, "--complaint", "hard_water")["table"]["expansions"]
        assert ask(run, "--complaint", "hard_water", "--thorough")["table"]["expansions"] > little


class TestBadInput:
    """One clear line on standard error, nothing on standard output, the exit code of its class."""

    @pytest.mark.parametrize(
        ("line", "code", "words"),
        [
            (["--complaint", "hard_watr"], 2, "complaint 'hard_watr' (did you mean hard_water?)"),
            (["--saw", "levl=static"], 2, "observation 'levl' (did you mean level?)"),
            (["--saw", "level=statik"], 2, "outcome of level 'statik' (did you mean static?)"),
            (["--saw", "level"], 2, "write it as --saw OBSERVATION=OUTCOME"),
            (["--site", "supply=sea"], 2, "value of supply 'sea'"),
            (["--done", "pray"], 2, "repair 'pray'"),
            (["--setup", "cover=ajar"], 2, "value of cover 'ajar'"),
            (["--visit", "no_such_visit"], 2, "no visit 'no_such_visit'"),
            (["--nonsense"], 2, "--nonsense"),
            (["--setup", "cover=off", "--setup", "pressure=full"], 6, "cover_under_pressure"),
        ],
    )
    def test_the_line(self, run: Run, line: list[str], code: int, words: str) -> None:
        ran = run("next", "--model", SMALL, *line)
        assert ran.code == code
        assert words in ran.err
        assert ran.out == ""
        assert "Traceback" not in ran.err

    def test_a_folder_that_is_no_model(self, run: Run, tmp_path: Path) -> None:
        ran = run("next", "--model", str(tmp_path))
        assert ran.code == 3
        assert "model.yaml" in ran.err

    def test_a_model_that_does_not_exist(self, run: Run) -> None:
        assert run("next", "--model", "hardner").code == 2

    def test_a_damaged_visit(self, run: Run, tmp_path: Path) -> None:
        path = tmp_path / "visit.jsonl"
        path.write_text('{"schema": "brinebayes.visit.1"}\n{"event": "saw"\n')
        ran = run("next", "--model", SMALL, "--visit", str(path))
        assert ran.code == 4
        assert "visit.jsonl:2" in ran.err

    def test_an_interrupt_ends_with_130(self, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
        def interrupted(*_: object) -> None:
            raise KeyboardInterrupt

        monkeypatch.setattr("brinebayes.advice.advise.advise", interrupted)
        ran = run("next", "--model", SMALL)
        assert ran.code == 130
        assert "Traceback" not in ran.err

    def test_what_cannot_hold_together_is_named(self, run: Run, tmp_path: Path) -> None:
        """A copy of the small model in which thumb and tape never err: a level cannot fall then.

        A rule doubts the pair once; said twice, it stands, and nothing can explain it.
        """
        folder = tmp_path / "exact"
        shutil.copytree(SMALL, folder)
        checks = folder / "checks.yaml"
        text = checks.read_text(encoding="utf-8")
        for old, new in [
            ("{strong: 0.95, weak: 0.05}", "{strong: 1.0}"),
            ("{strong: 0.1, weak: 0.9}", "{weak: 1.0}"),
            ("{weak: 0.4, pushes: 0.6}", "{pushes: 1.0}"),
            ("{falls: 0.96, static: 0.04}", "{falls: 1.0}"),
            ("{falls: 0.07, static: 0.93}", "{static: 1.0}"),
            ("misreading: {value: 0.03", "misreading: {value: 0.0"),
            ("misreading: {value: 0.04", "misreading: {value: 0.0"),
        ]:
            assert old in text
            text = text.replace(old, new)
        checks.write_text(text, encoding="utf-8")
        twice = 2 * ["--saw", "level=falls", "--saw", "suction_felt=weak"]
        ran = run("next", "--model", str(folder), *twice)
        assert ran.code == 5
        assert "level" in ran.err
        assert "suction_felt" in ran.err
        assert ran.err.count("\n") == 1

    def test_what_fits_badly_names_the_check_to_repeat(self, run: Run) -> None:
        """No salt in sight, loose salt under the rod and full brine: look at the salt again."""
        line = [
            *("--complaint", "salt_unused", "--saw", "salt_probe=loose"),
            *("--saw", "salt_seen=nearly_none", "--saw", "brine_sg=full_strength"),
        ]
        ran = run("next", *line, "--json")
        assert ran.code == 0
        found = json.loads(ran.out)["contradiction"]
        assert found["bits"] > 1.0
        assert found["suspects"][0]["observation"] == "salt_seen"
        assert "Look again at: salt_seen" in " ".join(run("next", *line).out.split())

    def test_nothing_at_all_shows_the_help(self, run: Run) -> None:
        ran = run()
        assert "next" in ran.out + ran.err

    def test_every_error_has_its_own_code(self) -> None:
        codes = [kind.exit_code for kind in BrinebayesError.__subclasses__()]
        assert sorted(codes) == [2, 3, 4, 5, 6, 7]


class TestProcess:
    """What only a real process shows."""

    def start(self, *line: str, **more: Any) -> subprocess.Popen[str]:
        """A process of the command line."""
        command = [sys.executable, "-m", "brinebayes.cli.main", *line]
        return subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **more
        )

    def test_nothing_else_is_imported_once_a_model_is_cached(self, tmp_path: Path) -> None:
        """The first run proves the model and keeps what it made; the second reads that."""
        imported_by_next(tmp_path, "--json")
        assert imported_by_next(tmp_path, "--json")[0] == []

    def test_a_reader_that_goes_away(self) -> None:
        process = self.start("model", "list", "faults", "--model", SMALL)
        assert process.stdout is not None
        process.stdout.close()
        assert process.stderr is not None
        assert "Traceback" not in process.stderr.read()
        process.stderr.close()
        process.wait()

    def test_a_full_disk_is_said_in_one_line(self) -> None:
        if not Path("/dev/full").exists():
            pytest.skip("this machine has no /dev/full")
        with open("/dev/full", "w") as full:
            ran = subprocess.run(
                [
                    sys.executable,
                    "-m",
                    "brinebayes.cli.main",
                    "model",
                    "list",
                    "faults",
                    "--model",
                    SMALL,
                ],
                stdout=full,
                stderr=subprocess.PIPE,
                text=True,
            )
        assert ran.returncode == 1
        assert ran.stderr.count("\n") == 1
        assert "No space left" in ran.stderr
