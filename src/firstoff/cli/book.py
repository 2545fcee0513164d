"""Commands about the book as a whole: `firstoff book list`, `runs`, `verify`, `copy`, `export`, `take`."""

from __future__ import annotations

import sys
from json import dumps
from pathlib import Path
from typing import Annotated

import typer

from firstoff.cli.app import BAD_INPUT, Json, Shop, app, console, telling

book_app = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None, help="The shop's book: what happened, only ever added to."
)
app.add_typer(book_app, name="book")


def _print(value: object) -> None:
    sys.stdout.write(dumps(value, ensure_ascii=False, indent=1) + "\n")


@book_app.command("list")
def list_examinations(
    job: Annotated[str | None, typer.Option("--job", help="Of this job only.")] = None,
    most: Annotated[int, typer.Option("--most", min=1, help="How many to show.")] = 30,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """List what was examined, newest first."""
    from firstoff.sheets.book_pages import print_examinations
    from firstoff.workflows import book

    found = book.examinations(book.shop_book(shop, must_be=True), job, most)
    if json:
        _print(book.listed_json(found))
    else:
        print_examinations(found, console())


@book_app.command()
def runs(
    job: Annotated[str | None, typer.Option("--job", help="Of this job only.")] = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """List what was noted after runs, newest first."""
    from firstoff.sheets.book_pages import print_runs
    from firstoff.workflows import book

    found = book.noted_runs(book.shop_book(shop, must_be=True), job)
    if json:
        _print(book.runs_json(found))
    else:
        print_runs(found, console())


@book_app.command()
def verify(shop: Shop = None, json: Json = False) -> None:
    """Look at the whole book: its file, every stamp, and the index made anew. Exit code 2 where it is damaged."""
    from firstoff.sheets.book_pages import print_verified
    from firstoff.workflows import book

    here = book.shop_book(shop, must_be=True)
    with telling() as tell:
        found = book.verify(here.book, tell)
    if json:
        _print(
            {
                "schema": "firstoff.verify/1",
                "whole": not found.faults,
                "entries": found.entries,
                "contents": found.contents,
                "last": found.last,
                "faults": found.faults,
            }
        )
    else:
        print_verified(found, here.book.place, console())
    raise typer.Exit(BAD_INPUT if found.faults else 0)


@book_app.command()
def copy(
    file: Annotated[Path, typer.Argument(help="The copy: a new file, best on another disk.")],
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Copy the book while it is in use. To put a copy back, move it to book.sqlite while no Firstoff runs."""
    from firstoff.workflows import book

    with telling() as tell:
        book.copy(book.shop_book(shop, must_be=True).book, file, tell)
    if json:
        _print({"schema": "firstoff.written/1", "written": [str(file)]})
    else:
        typer.echo(f"Copied to {file}.")


@book_app.command()
def export(
    folder: Annotated[Path, typer.Argument(help="A new folder.")],
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Write the whole book as JSON lines, with CSV tables beside them for those who only want to look."""
    from firstoff.workflows import book

    with telling() as tell:
        written = book.export(folder, shop, tell)
    if json:
        _print({"schema": "firstoff.written/1", "written": [str(path) for path in written]})
    else:
        typer.echo("Written:\n" + "\n".join(f"  {path}" for path in written))


@book_app.command()
def take(
    folder: Annotated[Path, typer.Argument(help="What firstoff book export wrote.")],
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Make this shop's book of an export; every stamp is held against its content first. Refused where the shop has a book."""
    from firstoff.workflows import book

    with telling() as tell:
        found = book.take(folder, shop, tell)
    if json:
        _print({"schema": "firstoff.take/1", "entries": found})
    else:
        typer.echo(f"Taken: {found} entries.")
