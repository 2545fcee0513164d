"""`firstoff recheck`: which jobs of the book still stand."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from firstoff.cli.app import EXIT_OF_ANSWER, Json, Shop, app, console, telling
from firstoff.cli.facts import tell_noticed


@app.command()
def recheck(
    jobs: Annotated[
        list[str] | None, typer.Argument(help="Jobs by the names that the book has; all if left out.")
    ] = None,
    what_if: Annotated[
        Path | None, typer.Option("--what-if", help="A file of facts to lay over the shop's: what would be otherwise.")
    ] = None,
    sets: Annotated[
        list[str] | None,
        typer.Option("--set", help='One such fact: "machine.spindle.stiffness=20(2) N/µm"; may repeat.'),
    ] = None,
    all_anew: Annotated[
        bool, typer.Option("--all", help="Examine every job again, even where nothing changed.")
    ] = False,
    as_written: Annotated[
        bool, typer.Option("--as-written", help="With a what-if: try no higher feeds; several times quicker.")
    ] = False,
    processes: Annotated[
        int | None,
        typer.Option("--processes", min=1, help="How many jobs to examine at once; one a processor if left out."),
    ] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", help="Examine on this dask.distributed cluster: tcp://HOST:PORT.")
    ] = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Hold every job that was examined against the shop as it stands now, or as it would be: which answers moved, and why.

    Exit code: the worst of the answers that got worse, 0 where all stand.
    """
    from firstoff.workflows import book
    from firstoff.workflows import recheck as rechecking

    here = book.shop_book(shop)
    tell_noticed(here.folder, book.notice(here))
    overlay = rechecking.what_if(what_if, sets or ())
    with telling() as tell:
        found = rechecking.recheck_book(
            here, jobs or (), overlay, all_anew=all_anew, as_written=as_written, processes=processes, cluster=cluster, tell=tell
        )  # fmt: skip
    if json:
        sys.stdout.write(rechecking.recheck_json(found) + "\n")
    else:
        rechecking.show_recheck(found, book.units_of(here.folder), console())
    raise typer.Exit(EXIT_OF_ANSWER[found.answer])
