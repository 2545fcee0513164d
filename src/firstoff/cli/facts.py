"""Commands about single facts: `fact`, `set`, `facts`."""

from __future__ import annotations

import sys
from datetime import datetime
from json import dumps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from firstoff.cli.app import Json, Shop, app, console

if TYPE_CHECKING:
    from firstoff.workflows.book import Noticed

Why = Annotated[str, typer.Option("--why", help="Why it changes; kept in the book.")]
OfJob = Annotated[
    str | None, typer.Option("--job", help="A fact of this job (path begins with job.), not of the shop.")
]


def tell_noticed(folder: Path, noticed: Noticed) -> None:
    """Say on stderr what was found edited by hand."""
    from firstoff.sheets.book_pages import print_changes
    from firstoff.workflows.book import units_of

    if noticed.how == "by hand" and noticed.changed:
        title = "The shop's files were edited since the book last looked; it now knows:"
        print_changes(noticed.changed, title, units_of(folder), console(stderr=True))


@app.command()
def fact(
    path: Annotated[str, typer.Argument(help="As in docs/facts.md: machine.frame.stiffness, tools.em6.LF ...")],
    job: OfJob = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Show a fact, or all facts below a path, with evidence and history."""
    from firstoff.sheets.book_pages import print_facts
    from firstoff.workflows import book, facts

    here = book.shop_book(shop)
    tell_noticed(here.folder, book.notice(here))
    shown = facts.show_fact(here, path, job)
    if json:
        sys.stdout.write(dumps(facts.fact_json(shown), ensure_ascii=False, indent=1) + "\n")
    else:
        print_facts(shown, book.units_of(here.folder), console())


@app.command("set", context_settings={"ignore_unknown_options": True})  # a value may begin with a minus
def set_one(
    path: Annotated[str, typer.Argument(help="As in docs/facts.md; a range, a place or a list is set as a whole.")],
    value: Annotated[
        str,
        typer.Argument(
            help='As in the file, without its outer quotes: "8.9(4) N/µm"; with --readings "8.8 9.1 8.9 N/µm".'
        ),
    ],
    why: Why = "",
    evidence: Annotated[str | None, typer.Option(help="assumed, handbook, plate, measured, learned or set.")] = None,
    u: Annotated[
        str | None, typer.Option("--u", help='Standard uncertainty, if not in the value: "5 %", "0.02 mm".')
    ] = None,
    df: Annotated[float | None, typer.Option("--df", help="Degrees of freedom of the uncertainty.")] = None,
    note: Annotated[str | None, typer.Option(help="A note in the file, beside the value.")] = None,
    on: Annotated[str | None, typer.Option("--on", help="Date of the measurement; today if left out.")] = None,
    readings: Annotated[
        bool, typer.Option("--readings", help="VALUE is a row of readings: their mean is set.")
    ] = False,
    job: OfJob = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Change a fact in its file, everything else in it untouched, and record it."""
    from firstoff.sheets.book_pages import print_changes
    from firstoff.workflows import book, facts

    here = book.shop_book(shop)
    told = facts.Told(u, df, evidence, note, on)
    do = facts.set_from_readings if readings else facts.set_fact
    done = do(here, path, value, told, job=job, why=why)
    tell_noticed(here.folder, done.noticed)
    if json:
        sys.stdout.write(dumps(facts.changed_json(done), ensure_ascii=False, indent=1) + "\n")
    else:
        title = "Written and recorded:" if done.changed else "It says that already; nothing was written."
        print_changes(done.changed, title, book.units_of(here.folder), console())


@app.command("facts")
def list_all(
    by: Annotated[
        str, typer.Option("--by", help="age (oldest first), doubt (widest first) or evidence (never measured first).")
    ] = "evidence",
    most: Annotated[int, typer.Option("--most", min=1, help="How many to show.")] = 30,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """List the shop's facts: which are oldest, widest, or were never measured."""
    from firstoff.sheets.book_pages import print_fact_list
    from firstoff.workflows import book, facts

    here = book.shop_book(shop)
    tell_noticed(here.folder, book.notice(here))
    found = facts.list_facts(here, by, datetime.now())
    lines = found[:most]
    if json:
        sys.stdout.write(dumps(facts.lines_json(lines), ensure_ascii=False, indent=1) + "\n")
    else:
        print_fact_list(lines, by, len(found), book.units_of(here.folder), console())
