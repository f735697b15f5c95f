"""What the customer and the office get to read."""

from __future__ import annotations

import pytest

from brinebayes.knowledge.shop import Shop
from brinebayes.visit.record import Header, event_lines, header_line, parse
from brinebayes.wording.summary import customer, office
from tests.dialogue.drive import TO_THE_FIRST_ACT, Sitting

PROVEN = ("take clean_injector", "1", "take proof", "passed", "finish", "ok")
PENDING = ("take clean_injector", "1", "finish", "3", "")
PASSED_ON = ("pass on", "licensed plumber", "ok")
OUTSIDE = ("saw outlet_hardness=soft", "saw salt_use=usual", "finish", "1", "ok")
AGAIN = ("finish", "second_visit_needed", "ok", "2")


def customers(*lines: str) -> str:
    return customer(Sitting("1", "", "go", "1", *lines).dialogue)


def offices(*lines: str, shop: Shop | None = None) -> str:
    sitting = Sitting(*TO_THE_FIRST_ACT, *lines, shop=shop or Shop())
    text = header_line(Header(at="2024-05-31T08:00:00Z"))
    text += event_lines(sitting.events, "2024-05-31T09:10:00Z")
    return office(sitting.dialogue, parse("x", text.encode()))


class TestCustomer:
    """Plain words, one for each way a visit can end."""

    @pytest.mark.parametrize(
        ("lines", "says"),
        [
            (PROVEN, "It was tested afterwards and works."),
            (PENDING, "It has been repaired. Whether it works again, the next days will"),
            (PASSED_ON, "This is work for somebody else (licensed plumber). We have passed it"),
            (OUTSIDE, "The softener itself is in order."),
            (AGAIN, "It is not mended yet. We have to come again."),
            ((), "The visit is not finished yet."),
        ],
    )
    def test_how_it_ended(self, lines: tuple[str, ...], says: str) -> None:
        assert says in customers(*lines)

    def test_what_to_watch_while_the_proof_is_pending(self) -> None:
        text = customers(*PENDING)
        assert "- Salt goes down over the next weeks." in text
        assert "- A full regeneration tonight shows the rest." in text
        assert "- We will call you on 2024-06-03." in text

    def test_the_bypass_is_explained_where_the_unit_is_left_in_it(self) -> None:
        assert "The unit is in bypass" in customers(*PASSED_ON)
        assert "The unit is in bypass" not in customers(*PROVEN)

    def test_why_it_is_not_the_softener(self) -> None:
        assert "- The unit softens and uses salt; the tap may not be" in customers(*OUTSIDE)

    def test_no_figures_and_no_ids(self) -> None:
        for lines in (PROVEN, PENDING, PASSED_ON, OUTSIDE, AGAIN):
            text = customers(*lines)
            assert "%" not in text
            assert "EUR" not in text
            assert "_" not in text


class TestOffice:
    """The whole of it."""

    def test_a_pending_visit(self) -> None:
        text = offices("take draw_test", "weak", "static", "note lid cracked", *PENDING)
        for line in (
            "From 2024-05-31T08:00:00Z to 2024-05-31T09:10:00Z",
            "End: repaired, proof pending",
            "Call back on: 2024-06-03",
            "- Suction at the valve: barely felt",
            "- Brine level: it stays",
            "- Clean the injector",
            "- Suction is felt at the line.",
            "- clock right, settings noted",
            "- lid cracked",
        ):
            assert f"{line}\n" in text
        assert "the unit works now:" in text

    def test_repairs_stand_between_what_was_seen_before_and_after(self) -> None:
        text = offices("saw level=static", "done clean_injector", "saw level=falls")
        assert "- Brine level: it stays\n- (then: Clean the injector)\n- Brine level: it fa" in text

    def test_parts_with_code_and_price(self) -> None:
        shop = Shop(codes={"seal_kit": "S 17"})
        text = offices("done replace_seals", "part missing seal_kit", shop=shop)
        assert "- Replace the seals: seal kit (S 17) 35 EUR" in text
        assert "Parts to bring\n- seal kit (S 17)" in text

    def test_what_was_found(self) -> None:
        text = offices("found seals_worn=seen", "found injector_clogged")
        found = "- Piston seals worn (seen)\n- Injector clogged"
        assert f"Found to be the cause\n{found}" in text

    def test_a_defect_to_report_stays_one_after_a_repair(self) -> None:
        """The small model's duty to look at the air gap of a well's drain."""
        text = offices("saw supply=well", "done clean_injector")
        assert "To report\n- Look at the air gap of the drain" in text

    def test_what_cannot_hold_together_is_said(self) -> None:
        assert "End: not ended" in offices()
