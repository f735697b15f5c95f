"""The model and the shop file that a command was given."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from brinebayes.knowledge.schema import CheckedModel
    from brinebayes.knowledge.shop import Shop

#: The environment may name the shop file once for all commands.
VARIABLE = "BRINEBAYES_SHOP"

ShopFile = Annotated[
    str,
    typer.Option(
        "--shop",
        metavar="FILE",
        help=f"The shop's rates, prices and van stock; ${VARIABLE} if not given.",
    ),
]


def model_and_shop(model: str, shop: str) -> tuple[CheckedModel, Shop]:
    """The checked model with the shop's figures in it. Raises ModelError for either."""
    from pathlib import Path

    from brinebayes.checking.ready import ready
    from brinebayes.knowledge.shipped import model_folder
    from brinebayes.knowledge.shop import NO_SHOP, apply, read_shop

    checked = ready(model_folder(model))
    path = shop or os.environ.get(VARIABLE, "")
    if not path:
        return checked, NO_SHOP
    found = read_shop(Path(path), checked.model)
    return apply(checked, found), found
