"""A model as one SVG picture: black on white, told apart by shape and not by colour."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from brinebayes.knowledge.schema import Model
from brinebayes.network.layers import Picture, Place
from brinebayes.wording.fill import fill, templates

#: Pixels: of a column with the gap behind it, of a box, of a row, and above the first.
COLUMN, BOX, ROW, TOP = 250, 176, 20, 64
#: Corners and outline of each kind's box.
SHAPES = {
    "fault": 'rx="8" stroke-width="2"',
    "site": 'rx="0" stroke-dasharray="2 2"',
    "mechanism": 'rx="0"',
    "complaint": 'rx="8" stroke-dasharray="6 2"',
    "observation": 'rx="8"',
    "result": 'rx="0" stroke-width="2"',
}
#: Letters that fit into a box.
FITS = 27


def svg(model: Model, drawn: Picture) -> str:
    """The whole picture as text."""
    width = COLUMN * (max(p.column for p in drawn.places) + 1) + 20
    tall = TOP + ROW * (max(p.row for p in drawn.places) + 1) + 16
    at = _spread(drawn, tall)
    about = model.about
    title = f"{about.name} {about.version}"
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {tall}"'
            f' width="{width}" height="{tall}" font-family="sans-serif" font-size="11">',
            f"<title>{escape(title)}</title>",
            '<rect width="100%" height="100%" fill="white"/>',
            f'<text x="10" y="20" font-size="15">{escape(title)}</text>',
            *_legend(drawn),
            '<g fill="none" stroke="black" stroke-opacity="0.28">',
            *(_arrow(at[a], at[b]) for a, b in drawn.arrows),
            "</g>",
            '<g stroke="black">',
            *(_box(model, place, *at[place.id]) for place in drawn.places),
            "</g>",
            "</svg>",
            "",
        ]
    )


def _spread(drawn: Picture, tall: int) -> dict[str, tuple[float, float]]:
    """Id -> left edge and middle of its box; short columns are spread over the height."""
    rows: dict[int, int] = {}
    for place in drawn.places:
        rows[place.column] = max(rows.get(place.column, 0), place.row + 1)
    room = tall - TOP - 16
    return {
        p.id: (10.0 + COLUMN * p.column, TOP + room * (p.row + 0.5) / rows[p.column])
        for p in drawn.places
    }


def _legend(drawn: Picture) -> list[str]:
    words, found = templates()["picture"], [p.kind for p in drawn.places]
    lines = []
    for k, kind in enumerate(kind for kind in SHAPES if kind in found):
        x = 10 + 150 * k
        lines.append(f'<g stroke="black"><rect x="{x}" y="32" width="22" height="14" fill="white"')
        lines.append(f" {SHAPES[kind]}/></g>")
        text = fill(words[kind], {"count": str(found.count(kind))})
        lines.append(f'<text x="{x + 28}" y="43">{escape(text)}</text>')
    return lines


def _arrow(start: tuple[float, float], end: tuple[float, float]) -> str:
    (x, y), (to_x, to_y) = start, end
    x += BOX
    bend = max(abs(to_x - x) / 2, 30.0)
    return (
        f'<path d="M{x:.0f} {y:.1f}C{x + bend:.0f} {y:.1f} {to_x - bend:.0f} {to_y:.1f}'
        f' {to_x:.0f} {to_y:.1f}"/>'
    )


def _box(model: Model, place: Place, x: float, y: float) -> str:
    text = place.id if len(place.id) <= FITS else place.id[: FITS - 1] + "…"
    said = _name(model, place)
    return (
        f"<g><title>{escape(said)}</title>"
        f'<rect x="{x:.0f}" y="{y - 8:.1f}" width="{BOX}" height="16" fill="white"'
        f" {SHAPES[place.kind]}/>"
        f'<text x="{x + 6:.0f}" y="{y + 4:.1f}" stroke="none"'
        f" data-id={quoteattr(place.id)}>{escape(text)}</text></g>"
    )


def _name(model: Model, place: Place) -> str:
    """What a pointer that rests on the box is told."""
    if place.id in model.faults:
        return model.faults[place.id].name
    if place.id in model.complaints:
        return model.complaints[place.id].name
    if place.kind == "observation":
        return model.observation(place.id).question
    return place.id
