"""The picture as SVG: well-formed, every thing in it, nothing told by colour."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

from brinebayes.knowledge.reading import read_model
from brinebayes.network.layers import picture
from brinebayes.wording.picture import svg

SMALL = Path(__file__).resolve().parents[1] / "models" / "small"


class TestSvg:
    """One file for a browser or a printer."""

    def test_every_thing_has_its_box_inside_the_picture(self) -> None:
        model = read_model(SMALL)
        drawn = picture(model)
        root = ElementTree.fromstring(svg(model, drawn))
        width, tall = (float(part) for part in root.attrib["viewBox"].split()[2:])
        texts = {one.attrib["data-id"]: one for one in root.iter() if "data-id" in one.attrib}
        assert set(texts) == {place.id for place in drawn.places}
        for one in texts.values():
            assert 0 < float(one.attrib["x"]) < width
            assert 0 < float(one.attrib["y"]) < tall
        paths = [one for one in root.iter() if one.tag.endswith("path")]
        assert len(paths) == len(drawn.arrows)

    def test_only_black_and_white(self) -> None:
        model = read_model(SMALL)
        found = re.findall(r'(?:fill|stroke)="([^"]+)"', svg(model, picture(model)))
        assert set(found) <= {"black", "white", "none"}

    def test_names_are_text_and_never_markup(self) -> None:
        model = read_model(SMALL)
        name, fault = next(iter(model.faults.items()))
        hostile = replace(fault, name="<script>alert(1)</script>")
        changed = replace(model, faults={**model.faults, name: hostile})
        assert "<script" not in svg(changed, picture(changed))
