"""`brinebayes page`: the sheet for a phone, as one file or served on this machine."""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

commands = typer.Typer(
    name="page",
    help="A sheet for a phone: the model and its advice in one file that needs no network.",
    rich_markup_mode=None,
    no_args_is_help=True,
)

ModelFolder = Annotated[
    str, typer.Option("--model", help="Folder of a model; the shipped softener if not given.")
]
ShopFile = Annotated[
    str,
    typer.Option("--shop", metavar="FILE", help="The shop's file; $BRINEBAYES_SHOP if not given."),
]


@commands.command("write")
def write(
    target: Annotated[
        str, typer.Argument(help="The HTML file; with --host, the folder that a host serves.")
    ],
    model: ModelFolder = "softener",
    shop: ShopFile = "",
    host: Annotated[
        bool, typer.Option("--host", help="Write a folder for a host, to be installed from.")
    ] = False,
) -> None:
    """Write the sheet as one HTML file, which opens on any phone, without a network."""
    from pathlib import Path

    from brinebayes.checking.ready import with_shop
    from brinebayes.page.export import hosted, page

    checked, figures = with_shop(model, shop or os.environ.get("BRINEBAYES_SHOP", ""))
    if not host:
        Path(target).write_text(page(checked, figures), encoding="utf-8")
        return
    folder = Path(target)
    folder.mkdir(parents=True, exist_ok=True)
    for name, (_, content) in hosted(checked, figures).items():
        (folder.joinpath(name)).write_bytes(content)


@commands.command("serve")
def serve(
    model: ModelFolder = "softener",
    shop: ShopFile = "",
    port: Annotated[int, typer.Option(help="0: any that is free.")] = 8791,
) -> None:
    """Serve the sheet on this machine alone, until it is stopped with Ctrl-C."""
    from brinebayes.checking.ready import with_shop
    from brinebayes.page.export import hosted
    from brinebayes.page.serve import server

    checked, figures = with_shop(model, shop or os.environ.get("BRINEBAYES_SHOP", ""))
    with server(hosted(checked, figures), port) as found:
        print(f"http://127.0.0.1:{found.server_port}/ until Ctrl-C", file=sys.stderr)
        found.serve_forever()
