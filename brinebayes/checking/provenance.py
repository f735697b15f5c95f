"""Where the numbers come from, and notes that say nothing of their own.

That a number has a basis at all is held by its type; what is looked at here is whether its note is
more than a formality.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from typing import get_args

from brinebayes.checking.remark import Remark, warning
from brinebayes.knowledge.schema import Basis, Model, Number, Spread
from brinebayes.knowledge.well_formed.spots import Spot, walk

#: The same note this often is a formula, not a reason.
BOILERPLATE = 3
#: A note of fewer words than this says no reason.
FEWEST_WORDS = 2


def numbers(model: Model) -> Iterator[tuple[Spot, Number | Spread]]:
    """Every number and every spread of the model with its place, in file order."""
    for visited in walk(model):
        if isinstance(visited.value, Number | Spread):
            yield visited.spot, visited.value


def per_basis(model: Model) -> dict[str, int]:
    """How many numbers (a spread counts once) stand on each basis, none left out."""
    counted = Counter(number.basis for _, number in numbers(model))
    return {basis: counted[basis] for basis in get_args(Basis)}


def remarks(model: Model) -> Iterator[Remark]:
    """Notes without a reason, and notes that many numbers share."""
    used: dict[str, list[Spot]] = defaultdict(list)
    for spot, number in numbers(model):
        words = number.note.split()
        if len(words) < FEWEST_WORDS:
            says = f"the note {number.note!r} gives no reason; say why it is this number"
            yield warning("note_without_reason", spot / "note", says)
        else:
            used[" ".join(words).casefold()].append(spot)
    for spots in used.values():
        if len(spots) >= BOILERPLATE:
            others = ", ".join(".".join(map(str, spot.path)) for spot in spots[1:4])
            more = f" and {len(spots) - 4} more" if len(spots) > 4 else ""
            says = (
                f"{len(spots)} numbers have this same note ({others}{more});"
                " say of each why it is this number"
            )
            yield warning("boilerplate_note", spots[0] / "note", says)
