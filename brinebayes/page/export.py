"""The page as one file: model, words, engine and sheet, with a policy that lets nothing else in."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
import zlib
from typing import Any

from brinebayes.knowledge.schema import CheckedModel
from brinebayes.knowledge.shop import NO_SHOP, Shop
from brinebayes.page.program import engine, part
from brinebayes.page.slim import slim
from brinebayes.wording.fill import templates

#: What a host serves beside the page, so that it can be installed.
BESIDE = {
    "manifest.webmanifest": "application/manifest+json",
    "icon.svg": "image/svg+xml",
    "sw.js": "text/javascript; charset=utf-8",
}

HOSTED_LINKS = (
    '<link rel="manifest" href="manifest.webmanifest"><link rel="icon" href="icon.svg">\n'
)


def page(checked: CheckedModel, shop: Shop = NO_SHOP, hosted: bool = False) -> str:
    """The page for a model, complete; opens from a file without a network.

    `shop`: whose figures are in the model; its part codes are shown. `hosted`: with links to
    `BESIDE`, for a host that serves these as well.
    """
    style, program = part("sheet.css"), "\n".join([engine(), *map(part, SHEET)])
    template = part("sheet.html")
    values = {
        "policy": _policy(style, program, hosted),
        "name": html.escape(checked.model.about.name),
        "links": HOSTED_LINKS if hosted else "",
        "style": style,
        "data": packed({"model": slim(checked.model, shop.codes), "words": _words()}),
        "program": program,
    }
    # Split once, so that what is put in may hold braces itself.
    parts = re.split(r"\{(\w+)\}", template)
    parts[1::2] = [values[name] for name in parts[1::2]]
    return "".join(parts)


#: The parts of the sheet in the order in which they are read.
SHEET = (
    "file.js",
    "store.js",
    "job.js",
    "view.js",
    "card.js",
    "answers.js",
    "below.js",
    "field.js",
    "start.js",
)


def hosted(checked: CheckedModel, shop: Shop = NO_SHOP) -> dict[str, tuple[str, bytes]]:
    """Everything that a host serves: name -> its type and content."""
    whole = page(checked, shop, hosted=True).encode()
    files = {name: (kind, part(name).encode()) for name, kind in BESIDE.items()}
    return {"index.html": ("text/html; charset=utf-8", whole), **files}


def packed(data: Any) -> str:
    """JSON compressed, in base64: no text in it can end the element in which it stands."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return base64.b64encode(zlib.compress(text.encode(), 9)).decode()


def _words() -> dict[str, Any]:
    told = templates()
    return {name: told[name] for name in WORDS}


#: The templates that the page uses.
WORDS = (
    "formats",
    "reasons",
    "notes",
    "contradiction",
    "estimated",
    "local_codes",
    "visit",
    "cases",
)


def _policy(style: str, program: str, hosted: bool) -> str:
    """Only these very texts may run or style; nothing is fetched from anywhere else."""
    own = "'self'" if hosted else "'none'"
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src 'sha256-{_digest(program)}'",
            f"style-src 'sha256-{_digest(style)}'",
            f"manifest-src {own}",
            f"worker-src {own}",
            f"img-src {own}",
            f"connect-src {own}",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
