"""One planted mistake per finding: the words it must contain and the line it must point at."""

from __future__ import annotations

import pytest

from brinebayes.checking.examine import examine
from tests.checking.planted import Edit, Planted, edited, line_of, new_remarks, problem, small

#: A second way to block the draw that nothing tells apart from the first, with its own repair.
TWIN_FAULT = """\
  seals_worn:
    name: Piston seals worn
"""
TWIN_FAULTS = Edit(
    "faults.yaml",
    TWIN_FAULT,
    """\
  float_shut:
    name: Float shut
    group: brine
    share: {value: 0.05, basis: judgement, weight: 9, note: invented share of floats}
    meaning: The float does not open.
"""
    + TWIN_FAULT,
)
TWIN_CAUSE = Edit(
    "mechanisms.yaml",
    "      - when: {suction: high}\n        then: good\n",
    "      - when: {float_shut: present}\n        then: poor\n"
    "      - when: {suction: high}\n        then: good\n",
)
TWIN_REPAIR = Edit(
    "repairs.yaml",
    "  replace_seals:\n",
    """\
  free_float:
    name: Free the float
    kind: R0
    minutes: {value: 8, basis: judgement, weight: 5, note: invented time for the float}
    who: technician
    how: Move it by hand.
    clears:
      float_shut: {value: 0.9, basis: judgement, weight: 15, note: invented success of freeing}
    same_luck: false
  replace_seals:
""",
)
BALL = Edit(
    "site.yaml",
    "      disc:\n",
    """\
      ball:
        name: ball valve
        share: {value: 0, basis: judgement, weight: 1, note: invented; there is none}
      disc:
""",
)

PLANTED = [
    # --- provenance ---
    Planted(
        "a note of one word",
        (Edit("faults.yaml", "note: invented share of worn seals", "note: guessed"),),
        "warning",
        "note_without_reason",
        "note: guessed",
        ("seals_worn.share.note", "'guessed' gives no reason"),
    ),
    Planted(
        "the same note three times",
        (
            Edit("faults.yaml", "invented share of worn seals", "as usual in the trade"),
            Edit("faults.yaml", "invented share of blocked lines", "as usual in the trade"),
            Edit("repairs.yaml", "invented time for the line", "As usual in  the trade"),
        ),
        "warning",
        "boilerplate_note",
        "share: {value: 0.25, basis: judgement, weight: 20, note: as usual in the trade}",
        ("3 numbers", "brine_line_blocked.share", "seals_worn.share", "clear_brine_line.minutes"),
    ),
    # --- applicability ---
    Planted(
        "a fault that can exist nowhere",
        (BALL, Edit("faults.yaml", "applies: {valve: piston}", "applies: {valve: ball}")),
        "error",
        "applies_nowhere",
        "applies: {valve: ball}",
        ("seals_worn.applies", "can exist at no site"),
    ),
    Planted(
        "a repair that fits no site",
        (BALL, Edit("repairs.yaml", "applies: {valve: piston}", "applies: {valve: ball}")),
        "warning",
        "applies_nowhere",
        "applies: {valve: ball}",
        ("replace_seals.applies", "can be done at no site"),
    ),
    # --- shares ---
    Planted(
        "shares that no network can have",
        (Edit("faults.yaml", "share: {value: 0.4,", "share: {value: 0.01,"),),
        "error",
        "no_exact_network",
        "faults:\n",
        ("the shares sum to 0.66",),
    ),
    # --- zeros ---
    Planted(
        "a share of nought",
        (
            Edit("faults.yaml", "share: {value: 0.25,", "share: {value: 0,"),
            Edit("faults.yaml", "share: {value: 0.4,", "share: {value: 0.7,"),
        ),
        "warning",
        "zero_probability",
        "share: {value: 0,",
        ("brine_line_blocked.share", "could never be found"),
    ),
    Planted(
        "an outcome that one slip would make impossible",
        (Edit("checks.yaml", "misreading: {value: 0.03,", "misreading: {value: 0,"),),
        "warning",
        "zero_probability",
        "gives: {of: {strong: 0.95, weak: 0.05}",
        ("suction_felt.rows[0].gives", "pushes would be impossible here"),
    ),
    Planted(
        "a complaint that is always made",
        (Edit("complaints.yaml", "{said: 0.8, not_said: 0.2}", "{said: 1, not_said: 0}"),),
        "warning",
        "zero_probability",
        "gives: {of: {said: 1,",
        ("hard_water.rows[0].gives", "not_said would be impossible here"),
    ),
    Planted(
        "a proof that is never wrong",
        (Edit("model.yaml", "passes_if_not: {value: 0.04,", "passes_if_not: {value: 0,"),),
        "warning",
        "zero_probability",
        "passes_if_not: {value: 0,",
        ("proof.passes_if_not", "no chance of a wrong proof"),
    ),
    # --- informativeness ---
    Planted(
        "an outcome that is only ever a misreading",
        (Edit("checks.yaml", "of: {weak: 0.4, pushes: 0.6}", "of: {weak: 1}"),),
        "warning",
        "unreachable_outcome",
        "pushes: pushes water out",
        ("suction_felt.outcomes.pushes", "never comes about except as a misreading"),
    ),
    Planted(
        "an outcome that cannot be seen at all",
        (
            Edit("checks.yaml", "of: {weak: 0.4, pushes: 0.6}", "of: {weak: 1}"),
            Edit("checks.yaml", "misreading: {value: 0.03,", "misreading: {value: 0,"),
        ),
        "error",
        "impossible_outcome",
        "pushes: pushes water out",
        ("suction_felt.outcomes.pushes", "probability 0 in every case"),
    ),
    Planted(
        "a check that tells nothing",
        (Edit("checks.yaml", "{soft: 0.04, hard: 0.96}", "{soft: 0.97, hard: 0.03}"),),
        "warning",
        "never_informs",
        "  hardness_test:",
        ("hardness_test", "can never inform"),
    ),
    Planted(
        "one of two observations that tells nothing",
        (Edit("checks.yaml", "{falls: 0.07, static: 0.93}", "{falls: 0.96, static: 0.04}"),),
        "warning",
        "never_informs",
        "      level:",
        ("draw_test.observations.level", "level can never inform"),
    ),
    Planted(
        "a complaint that tells nothing",
        (Edit("complaints.yaml", "{said: 0.3, not_said: 0.7}", "{said: 0.02, not_said: 0.98}"),),
        "warning",
        "never_informs",
        "  tank_overflows:",
        ("tank_overflows", "changes the odds of no fault"),
    ),
    # --- identifiability ---
    Planted(
        "two faults that show the same and need different repairs",
        (TWIN_FAULTS, TWIN_CAUSE, TWIN_REPAIR),
        "warning",
        "not_told_apart",
        "  brine_line_blocked:",
        ("brine_line_blocked", "apart from float_shut", "different repairs"),
    ),
    Planted(
        "a fault that leaves no trace",
        (TWIN_FAULTS, TWIN_REPAIR),
        "warning",
        "no_trace",
        "  float_shut:",
        ("float_shut", "as without a fault"),
    ),
    # --- remedies ---
    Planted(
        "a fault that nothing repairs",
        (TWIN_FAULTS, TWIN_CAUSE),
        "warning",
        "no_repair",
        "  float_shut:",
        ("float_shut", "no repair clears it"),
    ),
    Planted(
        "a fault that nothing repairs at some sites",
        (Edit("faults.yaml", "    applies: {valve: piston}\n", ""),),
        "warning",
        "no_repair",
        "  seals_worn:",
        ("seals_worn", "no repair clears it where valve: disc"),
    ),
    Planted(
        "a repair without a chance",
        (
            Edit(
                "repairs.yaml", "brine_line_blocked: {value: 0.9,", "brine_line_blocked: {value: 0,"
            ),
        ),
        "warning",
        "clears_nothing",
        "    clears:\n      brine_line_blocked",
        ("clear_brine_line.clears", "every chance is 0"),
    ),
    Planted(
        "a repair where its fault cannot be",
        (Edit("repairs.yaml", "applies: {valve: piston}", "applies: {valve: disc}"),),
        "warning",
        "clears_nothing",
        "seals_worn: {value: 0.95,",
        ("replace_seals.clears.seals_worn", "cannot exist where this repair applies"),
    ),
    Planted(
        "licensed work of another kind",
        (
            Edit(
                "repairs.yaml",
                "    who: technician\n    how: Take the line off",
                "    who: licensed\n    how: Take the line off",
            ),
        ),
        "warning",
        "licensed_work",
        "who: licensed",
        ("clear_brine_line.who", "kind R0 and who licensed do not fit"),
    ),
    # --- escalation ---
    Planted(
        "licensed work that no rule is about",
        (
            Edit("repairs.yaml", "kind: R0", "kind: LP"),
            Edit(
                "repairs.yaml",
                "    who: technician\n    how: Take the line off",
                "    who: licensed\n    how: Take the line off",
            ),
        ),
        "warning",
        "no_escalation",
        "who: licensed",
        ("clear_brine_line.who", "is about brine_line_blocked", "names the trade"),
    ),
    Planted(
        "a licensed check without any rule",
        (
            Edit("checks.yaml", "who: technician\n    how: Flush", "who: licensed\n    how: Flush"),
            Edit("rules.yaml", "    kind: escalates\n", "    kind: duty\n"),
            Edit("rules.yaml", "    to: licensed plumber\n", ""),
        ),
        "warning",
        "no_escalation",
        "who: licensed",
        ("hardness_test.who", "no rule escalates"),
    ),
    # --- safety ---
    Planted(
        "a check that can only be reached unsafely",
        (
            Edit(
                "checks.yaml",
                "needs: {pressure: none, cover: off}",
                "needs: {pressure: full, cover: off}",
            ),
        ),
        "error",
        "no_safe_route",
        "needs: {pressure: full, cover: off}",
        ("open_injector.needs", "cannot be reached safely from", "no route to"),
    ),
    Planted(
        "the way to it broken off by an invariant",
        (
            Edit(
                "setups.yaml",
                "    no_pressure_with_water_on:\n",
                "    bypass_stays:\n      never: {flow: around, pressure: none}\n"
                "      reason: Invented to stand in the way.\n"
                "    no_pressure_with_water_on:\n",
            ),
        ),
        "error",
        "no_safe_route",
        "needs: {pressure: none}",
        ("clear_brine_line", "bypass_stays: Invented to stand in the way"),
    ),
    Planted(
        "a check that leaves what must never be",
        (
            Edit(
                "checks.yaml",
                "    needs: {flow: through, position: brine_draw}\n",
                "    needs: {flow: through, position: brine_draw}\n    leaves: {cover: off}\n",
            ),
        ),
        "error",
        "unsafe_leaves",
        "leaves: {cover: off}",
        ("draw_test.leaves", "draw_test begun in", "cover_under_pressure: The cover flies off"),
    ),
    Planted(
        "an invariant that forbids service",
        (Edit("setups.yaml", "never: {cover: off, pressure: full}", "never: {pressure: full}"),),
        "error",
        "service_unsafe",
        "    cover_under_pressure:",
        ("invariants.cover_under_pressure", "forbids service itself"),
    ),
    Planted(
        "an invariant that keeps nothing from happening",
        (
            Edit(
                "setups.yaml",
                "  invariants:\n",
                "  invariants:\n    no_draw_with_water_off:\n"
                "      never: {flow: around, position: brine_draw, cover: off, pressure: full}\n"
                "      reason: Invented.\n",
            ),
        ),
        "warning",
        "idle_invariant",
        "    no_draw_with_water_off:",
        ("invariants.no_draw_with_water_off", "keeps nothing from happening"),
    ),
    Planted(
        "a move that can never be made",
        (
            Edit(
                "setups.yaml",
                "    fit_cover:\n",
                "    hold_cover:\n      name: Hold the cover\n"
                "      needs: {flow: through, pressure: none}\n      leaves: {cover: on}\n"
                "      minutes: {value: 1, basis: judgement, weight: 5, note: invented hold}\n"
                "    fit_cover:\n",
            ),
        ),
        "warning",
        "idle_move",
        "    hold_cover:",
        ("moves.hold_cover", "can never be made safely"),
    ),
    Planted(
        "a value that no move leads to",
        (
            Edit(
                "setups.yaml",
                "values: {on: fitted, off: taken off}",
                "values: {on: fitted, off: taken off, broken: in two}",
            ),
        ),
        "warning",
        "idle_value",
        "values: {on: fitted, off: taken off, broken: in two}",
        ("cover.values.broken", "broken never comes about"),
    ),
    Planted(
        "a route that is unsafe if the worst was only assumed",
        (Edit("setups.yaml", "needs: {flow: around, cover: on}", "needs: {flow: around}"),),
        "error",
        "unsafe_assumption",
        "    open_bypass:",
        ("moves.open_bypass", "is not safe from", "only assumed"),
    ),
    Planted(
        "a worst value that acts rely on",
        (Edit("setups.yaml", "needs: {pressure: none, cover: on}", "needs: {pressure: none}"),),
        "warning",
        "relies_on_worst",
        "      worst: on\n",
        ("variables.cover.worst", "on is assumed while cover is not known", "open_bypass relies"),
    ),
    Planted(
        "an open body without a caution",
        (
            Edit(
                "checks.yaml",
                "    needs: {pressure: none, cover: off}\n"
                "    cautions: [Never open the cover under pressure.]\n",
                "    needs: {pressure: none, cover: off}\n",
            ),
        ),
        "warning",
        "no_caution",
        "  open_injector:",
        ("open_injector", "cover off, of which cover_under_pressure speaks"),
    ),
    Planted(
        "a move to a hazard without a caution",
        (
            Edit(
                "setups.yaml",
                "    fit_cover:\n",
                "    tear_cover_off:\n      name: Tear the cover off\n"
                "      needs: {pressure: none, cover: on}\n      leaves: {cover: off}\n"
                "      minutes: {value: 1, basis: judgement, weight: 5, note: invented tear}\n"
                "    fit_cover:\n",
            ),
        ),
        "warning",
        "no_caution",
        "    tear_cover_off:",
        ("moves.tear_cover_off", "ends with cover off"),
    ),
]


class TestPlanted:
    """Each mistake is found, at its place, with its words; and the sound model has none."""

    @pytest.mark.parametrize("planted", PLANTED, ids=lambda planted: planted.name)
    def test_found_at_its_place(self, planted: Planted) -> None:
        files = edited(planted.edits)
        found = [r for r in new_remarks(files) if r.kind == planted.kind]
        said = [(r, str(problem(files, r))) for r in found]
        fitting = [(r, line) for r, line in said if all(word in line for word in planted.says)]
        assert len(fitting) == 1, said
        remark, line = fitting[0]
        assert remark.severity == planted.severity
        text = files[remark.spot.file].decode("utf-8")
        assert line.startswith(f"{remark.spot.file}:{line_of(text, planted.at)}:"), line

    def test_every_kind_has_its_mistake(self) -> None:
        """Kinds that no file can bring about are tested where they are made (test_shares)."""
        assert {planted.kind for planted in PLANTED} | {"share_not_met"} == KINDS

    def test_the_small_model_has_no_errors(self) -> None:
        assert [r for r in examine(small()).remarks if r.severity == "error"] == []


def _kinds() -> set[str]:
    """Every kind that the room can give, read from its own text."""
    import re
    from pathlib import Path

    import brinebayes.checking as room

    found: set[str] = set()
    for path in Path(room.__file__).parent.glob("*.py"):
        found |= set(re.findall(r'(?:error|warning)\(\s*"([a-z_]+)"', path.read_text("utf-8")))
    return found


KINDS = _kinds()
