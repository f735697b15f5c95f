"""`brinebayes reckon`: the trade's sums, and what bad input meets."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

Run = Callable[..., Any]

LINES = {
    "drain-line": "--flow 2gpm --length 100ft --bore 0.545in --pressure 50psi --rise 8ft",
    "flows": "--tank 9in --resin 1ft3",
    "draw": "--fall 3in --time 10min --tank 18in --in salt",
    "salt": "--resin 1.5ft3 --dose 6lb/ft3 --refill 0.5gpm --draw 0.35gpm",
    "days": "--capacity 30000gr --hardness 20gpg --use 300gal/day",
    "hardness": "20gpg",
}


def ask(run: Run, name: str, line: str) -> dict[str, float]:
    """Result by name, from the JSON answer."""
    ran = run("reckon", name, *line.split(), "--json")
    assert ran.code == 0, ran.err
    answer = json.loads(ran.out)
    assert answer["schema"] == "brinebayes.reckon.1"
    return {item["name"]: item["value"] for item in answer["results"]}


class TestResults:
    """Values from outside this program, by way of the command line."""

    def test_drain_line(self, run: Run) -> None:
        """Half-inch copper L: 3.44 psi per 100 ft at 2 gpm [P irrigation tube-loss table]."""
        found = ask(run, "drain-line", LINES["drain-line"])
        assert found["friction"] == pytest.approx(3.44, rel=0.1)
        assert found["lift"] == pytest.approx(8 * 0.433, rel=2e-3)

    def test_flows(self, run: Run) -> None:
        """9 in tank: about 2.2 gpm at 5 gpm/ft2 [common practice, no source]."""
        assert ask(run, "flows", LINES["flows"])["backwash"] == pytest.approx(2.2, abs=0.05)

    def test_resin_that_was_not_told_is_named_as_assumed(self, run: Run) -> None:
        """10 in tanks hold 1.5 ft3 [common practice, no source]."""
        ran = run("reckon", "flows", "--tank", "10 in")
        assert "resin 1.5 ft³" in ran.out
        assert "resin as it usually fills such a tank" in ran.out
        assert "usually fills" not in run("reckon", "flows", *LINES["flows"].split()).out

    @pytest.mark.parametrize(
        ("zone", "gpm", "u"), [("clear", 0.330, 0.013), ("salt", 0.149, 0.017)]
    )
    def test_draw(self, run: Run, zone: str, gpm: float, u: float) -> None:
        """3.0 in in 10 min in an 18 in tank, in clear liquid and in salt, with uncertainty [X]."""
        line = LINES["draw"].replace("salt", zone)
        ran = run("reckon", "draw", *line.split(), "--json")
        (draw,) = json.loads(ran.out)["results"]
        assert draw["value"] == pytest.approx(gpm, abs=6e-4)
        assert draw["uncertainty"] == pytest.approx(u, abs=6e-4)

    def test_salt(self, run: Run) -> None:
        """1.5 ft3 at 6 lb/ft3: 9 lb, 3.01 gal of refill in 6.0 min, 3.40 gal of brine [X]."""
        found = ask(run, "salt", LINES["salt"])
        assert found["salt"] == pytest.approx(9)
        assert found["refill water"] == pytest.approx(3.01, abs=0.01)
        assert found["refill time"] == pytest.approx(6.0, abs=0.05)
        assert found["brine"] == pytest.approx(3.40, abs=0.01)

    def test_days(self, run: Run) -> None:
        """30,000 gr less a day's reserve at 6,000 gr a day: 1,200 gal in 4 days [X]."""
        found = ask(run, "days", LINES["days"])
        assert found["days"] == pytest.approx(4.0)
        assert found["water between regenerations"] == pytest.approx(1200)

    def test_hardness(self, run: Run) -> None:
        """1 gpg is 17.118 mg/L, 0.17103 mmol/L and 7.86 mg/L of sodium [P]."""
        found = ask(run, "hardness", LINES["hardness"])
        assert found["hardness in mg/L"] == pytest.approx(20 * 17.118, rel=1e-4)
        assert found["hardness in mmol/L"] == pytest.approx(20 * 0.17103, rel=1e-4)
        assert found["sodium added"] == pytest.approx(20 * 7.86, rel=1e-3)

    def test_units_may_be_mixed(self, run: Run) -> None:
        """7.5708 L/min are 2 gpm; 13.843 mm are 0.545 in (exact inch and gallon)."""
        metric = "--flow 7.570823568L/min --length 30.48m --bore 13.843mm --pressure 50psi"
        one = ask(run, "drain-line", metric)
        two = ask(run, "drain-line", LINES["drain-line"].replace("--rise 8ft", ""))
        assert one["friction"] == pytest.approx(two["friction"], rel=1e-9)


@pytest.mark.parametrize("name", LINES)
class TestText:
    """What a person reads."""

    def test_it_says_how_and_fits_eighty_columns(self, run: Run, name: str) -> None:
        out = run("reckon", name, *LINES[name].split()).out
        assert max(map(len, out.splitlines())) <= 80
        for part in ("formula", "from", "assumes", "source"):
            assert f"\n  {part} " in out

    def test_text_and_object_say_the_same(self, run: Run, name: str) -> None:
        line = ("reckon", name, *LINES[name].split())
        words = " ".join(run(*line).out.split())
        answer = json.loads(run(*line, "--json").out)
        for item in (*answer["results"], *answer["inputs"]):
            assert item["text"] in words
        for text in (*answer["assumptions"], *answer["sources"], *answer["notes"]):
            assert " ".join(text.split()) in words


class TestSafety:
    """The usual caution stands with the sum it belongs to."""

    def test_the_air_gap_is_for_the_local_code(self, run: Run) -> None:
        out = " ".join(run("reckon", "drain-line", *LINES["drain-line"].split()).out.split())
        assert "never sealed or submerged; the local code decides" in out

    def test_sodium_is_for_a_physician(self, run: Run) -> None:
        assert "physician" in run("reckon", "hardness", "20 gpg").out


class TestBadInput:
    """One line on standard error that names the option, nothing on standard output, exit code 2."""

    @pytest.mark.parametrize(
        ("line", "words"),
        [
            (["hardness", "0,6 gpg"], 'hardness: "0,6 gpg": write a decimal point and no comma'),
            (["hardness", "20"], "the unit is missing"),
            (["hardness", "20 psi"], "psi is a pressure, and this is a concentration"),
            (["hardness", "about 2"], "write a plain number"),
            (["hardness", "-2 gpg"], "cannot be negative"),
            (["hardness", "1e20 gpg"], "not found in any house"),
            (["flows", "--tank", "0 in"], "tank diameter must be above zero"),
            (["flows", "--tank", "10 in", "--water", "900 F"], "is ice or steam"),
            (
                ["draw", "--fall", "3 in", "--time", "0 min", "--tank", "18 in", "--in", "salt"],
                "time",
            ),
            (
                ["draw", "--fall", "3 in", "--time", "9 min", "--tank", "18 in", "--in", "mud"],
                "mud",
            ),
            (["draw", "--fall", "3 in", "--time", "9 min", "--tank", "18 in"], "--in"),
            (["flows"], "--tank"),
            (["sums"], "sums"),
        ],
    )
    def test_the_line(self, run: Run, line: list[str], words: str) -> None:
        ran = run("reckon", *line)
        assert ran.code == 2
        assert words in ran.err
        assert ran.out == ""

    def test_a_dose_that_nothing_is_known_of(self, run: Run) -> None:
        ran = run("reckon", "salt", *LINES["salt"].replace("6lb/ft3", "20lb/ft3").split())
        assert ran.code == 2
        assert "not at 20 lb/ft³" in ran.err

    def test_nothing_at_all_shows_the_help(self, run: Run) -> None:
        ran = run("reckon")
        assert all(name in ran.out + ran.err for name in LINES)
