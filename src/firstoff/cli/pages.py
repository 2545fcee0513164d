"""The command that shows the shop in a browser: `open`."""

from __future__ import annotations

from typing import Annotated

import typer

from firstoff.cli.app import Shop, app


@app.command("open")
def open_shop(
    port: Annotated[int | None, typer.Option("--port", min=1, max=65535, help="Port to listen at.")] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Open no browser; the address is printed.")] = False,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Also for other computers on this network, behind a password that is asked for."),
    ] = False,
    shop: Shop = None,
) -> None:
    """Show the shop in a browser, for this computer alone unless told otherwise."""
    from firstoff.pages.serve import serve

    serve(shop, port, not no_browser, lan)
