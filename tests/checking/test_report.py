"""What `model check` shows."""

from __future__ import annotations

import json
from dataclasses import replace

from brinebayes.checking.provenance import per_basis
from brinebayes.checking.report import Report, report
from brinebayes.knowledge.reading import read_bytes
from brinebayes.network.build import build
from tests.checking.planted import SMALL, Edit, edited, line_of, small
from tests.checking.test_examine import TWIN_CAUSE, TWIN_FAULTS


class TestReport:
    """Figures and findings, as data and as text."""

    def test_the_small_model(self) -> None:
        found = report(small(), SMALL)
        assert (found.model_id, found.hash, found.errors) == ("small", small().hash, ())
        text = (SMALL / "setups.yaml").read_text("utf-8")
        place = f"setups.yaml:{line_of(text, 'worst: on')}:"
        assert any(line.startswith(place) for line in found.warnings)
        assert found.share_off is not None
        assert found.share_off < 1e-12
        assert found.size is not None
        assert found.size.variables == len(build(small(), {}).network.variables)
        assert 0 < found.size.largest_table <= found.size.total_entries
        assert found.pgmpy == "ok"

    def test_text_names_everything_that_a_reader_asks(self) -> None:
        text = report(small()).to_text()
        judged = per_basis(small())["judgement"]
        for words in (
            "Model small 1 (",
            "holds: 0 errors",
            "Numbers: ",
            f"judgement {judged} (",
            "Network: ",
            "Faults per call: none 5.0%, one ",
            "injector_clogged    40.0000%  40.0000%",
            "Second opinion on the network (pgmpy): ok.",
            "Warnings:",
            "setups.yaml: variables.cover.worst: ",
        ):
            assert words in text, words

    def test_data_goes_into_json_and_back(self) -> None:
        found = report(small()).to_object()
        assert json.loads(json.dumps(found))["stated"] == found["stated"]
        assert set(found) == set(Report.__dataclass_fields__)

    def test_alike_faults_are_listed_even_when_one_repair_clears_both(self) -> None:
        both = Edit(
            "repairs.yaml",
            "      brine_line_blocked: {value: 0.9,",
            "      float_shut: {value: 0.8, basis: judgement, weight: 9, note: invented gain}\n"
            "      brine_line_blocked: {value: 0.9,",
        )
        found = report(read_bytes(edited((TWIN_FAULTS, TWIN_CAUSE, both))))
        assert found.alike == (("brine_line_blocked", "float_shut"),)
        assert "Nothing tells apart: brine_line_blocked, float_shut." in found.to_text()
        assert not any("apart" in line for line in found.warnings)

    def test_a_model_without_a_network_is_still_reported(self) -> None:
        files = edited((Edit("faults.yaml", "share: {value: 0.4,", "share: {value: 0.01,"),))
        found = report(read_bytes(files))
        assert any("shares sum to 0.66" in line for line in found.errors)
        assert (found.size, found.share_off, found.calls) == (None, None, ())
        text = found.to_text()
        assert "refused: 1 errors" in text
        assert "Second opinion on the network (pgmpy): not asked." in text

    def test_without_warnings_there_is_no_heading_for_them(self) -> None:
        assert "Warnings:" not in replace(report(small()), warnings=()).to_text()
