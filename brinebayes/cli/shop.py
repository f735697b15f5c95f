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
    from brinebayes.checking.ready import with_shop

    return with_shop(model, shop or os.environ.get(VARIABLE, ""))
