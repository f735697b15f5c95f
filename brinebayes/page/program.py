"""The JavaScript that travels with the page, as one text."""

from __future__ import annotations

from importlib.resources import files

#: In the order in which they are read.
ENGINE = (
    "model",
    "bits",
    "order",
    "cliques",
    "tree",
    "outline",
    "reduce",
    "paths",
    "build",
    "odds",
    "belief",
    "conflict",
    "chance",
    "worlds",
    "rows",
    "every",
    "carried",
    "units",
    "readings",
    "visit",
    "rules",
    "routes",
    "acts",
    "situation",
    "futures",
    "table",
    "prices",
    "bounds",
    "problem",
    "follow",
    "search",
    "choose",
    "explain",
    "advise",
    "stage",
)


def engine() -> str:
    """The exact engine: plain functions in one strict scope, no page needed."""
    folder = files("brinebayes.page").joinpath("engine")
    texts = [folder.joinpath(f"{name}.js").read_text(encoding="utf-8") for name in ENGINE]
    return "\n".join(['"use strict";', *texts])


def part(name: str) -> str:
    """One file of the sheet, as text."""
    return files("brinebayes.page").joinpath("sheet", name).read_text(encoding="utf-8")
