"""Commands about the tool crib: where tools are, how they are gripped, how long they are, what to load."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime
from json import dumps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from firstoff.cli.app import EXIT_OF_ANSWER, Json, Paper, PaperName, Shop, app, console
from firstoff.cli.facts import Why, tell_noticed

if TYPE_CHECKING:
    from firstoff.changer.crib import Crib
    from firstoff.changer.crib_edits import Done

crib = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="The tool crib: where each tool is, how it is held and how it fares.",
)
app.add_typer(crib, name="crib")

Name = Annotated[str, typer.Argument(help="A tool by its name in tools.toml.")]
PocketNumber = Annotated[int, typer.Argument(help="A pocket by its number.")]
To = Annotated[str | None, typer.Option("--to", help='Where it goes, in words: "drawer 2".')]
Readings = Annotated[list[str], typer.Argument(help="Readings of its length, in the shop's unit.")]
MINUS_TOO = {"ignore_unknown_options": True}
"""A reading below zero is told to be none, not taken for an option."""
EXIT_OF_OUTCOME = {"intact": "clear", "cannot tell": "unjudged", "broken": "stop"}


def put_out(record: dict[str, Any]) -> None:
    sys.stdout.write(dumps(record, ensure_ascii=False, indent=1) + "\n")


def change(shop: Path | None, make: Callable[[Crib], Done], why: str, json: bool) -> None:
    """Make one change of the crib, and tell what was written."""
    from firstoff.sheets.book_pages import print_changes
    from firstoff.sheets.crib_list import print_remarks
    from firstoff.workflows import book
    from firstoff.workflows import crib as work
    from firstoff.workflows.crib_json import changed_crib_json

    here = book.shop_book(shop)
    done = work.do(here, make, why)
    tell_noticed(here.folder, done.noticed)
    if json:
        put_out(changed_crib_json(done))
        return
    if done.changed:
        print_changes(done.changed, "Written and recorded:", book.units_of(here.folder), console())
    print_remarks(done.remarks, console())


@crib.command("list")
def list_crib(
    html: Annotated[
        Path | None, typer.Option("--html", help="Also write the list to this file, as a page to print.")
    ] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", help="Also write it to this file as a PDF.")] = None,
    paper: Paper = PaperName.A4,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """List all tools: where each is, length, stick-out, holder, life used, condition, what may stand in, last broken."""
    from firstoff.sheets.crib_list import print_crib
    from firstoff.workflows import book
    from firstoff.workflows import crib as work
    from firstoff.workflows.crib_json import crib_json

    here = book.shop_book(shop)
    tell_noticed(here.folder, book.notice(here))
    found = work.the_crib(here.folder)
    if html is not None:
        work.write_crib_page(here, html, datetime.now())
        typer.echo(f"Page written to {html}.", err=True)
    if pdf is not None:
        work.write_tool_list(here.folder, pdf, datetime.now(), paper)
        typer.echo(f"Tool list written to {pdf}.", err=True)
    if json:
        put_out(crib_json(found))
    else:
        print_crib(found, book.units_of(here.folder), datetime.now(), console())


@crib.command("labels")
def labels(
    pdf: Annotated[Path, typer.Argument(help="Write the labels to this file as a PDF.")],
    paper: Paper = PaperName.A4,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Print a label for every tool, to be cut: name, looks, length, stick-out, holder, pocket."""
    from firstoff.workflows import book
    from firstoff.workflows import crib as work

    here = book.shop_book(shop)
    tell_noticed(here.folder, book.notice(here))
    number = work.write_labels(here.folder, pdf, datetime.now(), paper)
    if json:
        put_out({"schema": "firstoff.crib-labels/1", "written": str(pdf), "labels": number})
    else:
        typer.echo(f"{number} labels written to {pdf}.")


@crib.command("load")
def load(name: Name, pocket: PocketNumber, why: Why = "", shop: Shop = None, json: Json = False) -> None:
    """Put a tool into a pocket: refused where the pocket is taken or a neighbour is too wide."""
    from firstoff.changer import crib_edits

    change(shop, lambda now: crib_edits.load(now, name, pocket), why, json)


@crib.command("unload")
def unload(pocket: PocketNumber, to: To = None, why: Why = "", shop: Shop = None, json: Json = False) -> None:
    """Take out what stands in a pocket."""
    from firstoff.changer import crib_edits

    change(shop, lambda now: crib_edits.unload(now, pocket, to or crib_edits.BENCH), why, json)


@crib.command("swap")
def swap(
    first: Name,
    second: Annotated[str, typer.Argument(help="The tool that it changes places with.")],
    why: Why = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Let two tools change places: pockets, spindle or places in words."""
    from firstoff.changer import crib_edits

    change(shop, lambda now: crib_edits.swap(now, first, second), why, json)


@crib.command("put")
def put(
    name: Name,
    to: Annotated[str, typer.Argument(help='Where it lies, in words: "drawer 2".')],
    why: Why = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Say where a tool lies that is in no pocket."""
    from firstoff.changer import crib_edits

    change(shop, lambda now: crib_edits.put(now, name, to), why, json)


@crib.command("spindle")
def spindle(
    name: Annotated[str | None, typer.Argument(help="The tool that is in the spindle now.")] = None,
    empty: Annotated[bool, typer.Option("--empty", help="Nothing is in it: the tool is back in its pocket.")] = False,
    to: To = None,
    why: Why = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Say which tool is in the spindle; a pocket that names it waits for it."""
    from firstoff.changer import crib_edits
    from firstoff.errors import Fault, InputError

    if empty == (name is not None):
        raise InputError(Fault("say which tool is in the spindle, or --empty", name or "", "NAME or --empty, not both"))
    tool = name or ""
    change(
        shop, lambda now: crib_edits.out_of_spindle(now, to) if empty else crib_edits.into_spindle(now, tool), why, json
    )


@crib.command("grip")
def grip(
    name: Name,
    holder: Annotated[str, typer.Argument(help="A holder by its name in tools.toml.")],
    stick_out: Annotated[str | None, typer.Option("--stick-out", help='Measured now: "22.0(3) mm".')] = None,
    why: Why = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Grip a tool in a holder, or anew in the same: its length and stick-out from before are void."""
    from firstoff.changer import crib_edits

    at = datetime.now().replace(microsecond=0)
    change(shop, lambda now: crib_edits.grip(now, name, holder, at, stick_out), why, json)


@crib.command("loosen")
def loosen(name: Name, why: Why = "", shop: Shop = None, json: Json = False) -> None:
    """Take a tool out of its holder: the holder is free, length and stick-out are void."""
    from firstoff.changer import crib_edits

    at = datetime.now().replace(microsecond=0)
    change(shop, lambda now: crib_edits.loosen(now, name, at), why, json)


@crib.command("broke")
def broke(
    name: Name,
    why: Annotated[str, typer.Option("--why", help="Why it broke; kept with the tool and in the book.")] = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Note that a tool broke today."""
    from firstoff.changer import crib_edits

    today = datetime.now().date()
    change(shop, lambda now: crib_edits.broke(now, name, today, why), why or f"{name} broke", json)


@crib.command("used")
def used(
    name: Name,
    minutes: Annotated[float, typer.Argument(help="Minutes of cutting to add.")],
    why: Why = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Add minutes of cutting to what a tool's edge has cut."""
    from firstoff.changer import crib_edits

    change(shop, lambda now: crib_edits.used(now, {name: minutes}), why, json)


@crib.command("fresh")
def fresh(name: Name, why: Why = "", shop: Shop = None, json: Json = False) -> None:
    """Say that a new cutter is in under the same name: no minutes, gripped anew."""
    from firstoff.changer import crib_edits

    at = datetime.now().replace(microsecond=0)
    change(shop, lambda now: crib_edits.fresh(now, name, at), why, json)


@crib.command("length", context_settings=MINUS_TOO)
def length(
    name: Name,
    readings: Readings,
    note: Annotated[str, typer.Option(help="A note in the file, beside the value.")] = "",
    yes: Annotated[
        bool, typer.Option("--yes", help="Write it even where it is not the length of this tool as it is known.")
    ] = False,
    why: Why = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Record a measured length: mean of the readings, doubt from them and from the setter. Refused where it is far from what is known."""
    from firstoff.sheets.crib_list import print_taken
    from firstoff.workflows import book
    from firstoff.workflows import crib as work
    from firstoff.workflows.crib_json import length_json

    here = book.shop_book(shop)
    values = work.readings_of(here.folder, readings, f"firstoff crib length {name}")
    taken = work.take_length(here, name, values, why=why, note=note, sure=yes)
    tell_noticed(here.folder, taken.done.noticed)
    if json:
        put_out(length_json(taken))
    else:
        print_taken(name, taken.mean, taken.before, taken.check, book.units_of(here.folder), console())


@crib.command("check", context_settings=MINUS_TOO)
def check(name: Name, readings: Readings, shop: Shop = None, json: Json = False) -> None:
    """Hold readings against a tool's length window: intact, broken, or cannot tell. Nothing is written."""
    from firstoff.sheets.crib_list import print_checked
    from firstoff.workflows import book
    from firstoff.workflows import crib as work
    from firstoff.workflows.crib_json import check_json

    here = book.shop_book(shop)
    values = work.readings_of(here.folder, readings, f"firstoff crib check {name}")
    window, found = work.check(here.folder, name, values)
    if json:
        put_out(check_json(name, window, found))
    else:
        print_checked(name, window, found, book.units_of(here.folder), console())
    raise typer.Exit(EXIT_OF_ANSWER[EXIT_OF_OUTCOME[found.outcome.value]])


@crib.command("today")
def today(
    jobs: Annotated[list[str], typer.Argument(help="Today's jobs, in the order they are to run.")],
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Say what to load for today's jobs with the fewest changes by hand, and which holders to free."""
    from firstoff.facts.shop import load_shop
    from firstoff.sheets.crib_list import print_today
    from firstoff.workflows import book
    from firstoff.workflows.crib_day import today as plan_day
    from firstoff.workflows.crib_json import today_json

    here = book.shop_book(shop)
    found = plan_day(load_shop(here.folder), jobs)
    if json:
        put_out(today_json(found))
    else:
        print_today(found, console())
    raise typer.Exit(0 if found.plan is not None and not found.freed.unserved else EXIT_OF_ANSWER["stop"])


@crib.command("drift")
def drift(
    names: Annotated[
        list[str] | None, typer.Argument(help="Tools; all with a measured length if none is named.")
    ] = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Show how measured lengths have gone since the last grip, from the book."""
    from firstoff.sheets.crib_list import print_drifts
    from firstoff.workflows import book
    from firstoff.workflows import crib as work
    from firstoff.workflows.crib_json import drifts_json

    here = book.shop_book(shop)
    tell_noticed(here.folder, book.notice(here))
    found = work.drifts(here, tuple(names or ()))
    if json:
        put_out(drifts_json(found))
    else:
        print_drifts(found, book.units_of(here.folder), console())


@crib.command("export")
def export(
    out: Annotated[Path | None, typer.Argument(help="Write to this new file; to the terminal if left out.")] = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Write all tools as comma-separated values: a row a tool, a column a symbol of ISO 13399 with its unit."""
    from firstoff.workflows import book, crib_tables

    here = book.shop_book(shop)
    text = crib_tables.export_tools(here.folder, out)
    if json:
        put_out(
            {
                "schema": "firstoff.crib-export/1",
                "written": None if out is None else str(out),
                "tools": text.count("\n") - 1,
            }
        )
    elif out is None:
        sys.stdout.write(text)
    else:
        typer.echo(f"Tools written to {out}.", err=True)


@crib.command("import")
def take_in(
    table: Annotated[Path, typer.Argument(help="A table as crib export writes it.")],
    look: Annotated[bool, typer.Option("--look", help="Only show what would change.")] = False,
    yes: Annotated[
        bool, typer.Option("--yes", help="Let plain values take the place of measured ones: they are assumed then.")
    ] = False,
    why: Why = "",
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Take tools in from comma-separated values: what they say is set in tools.toml, everything else stays."""
    from firstoff.sheets.book_pages import print_changes
    from firstoff.workflows import book, crib_tables
    from firstoff.workflows.crib_json import changed_crib_json

    here = book.shop_book(shop)
    done = crib_tables.import_tools(here, table, look=look, sure=yes, why=why)
    tell_noticed(here.folder, done.noticed)
    if json:
        put_out(changed_crib_json(done))
        return
    title = "Would be set:" if look else "Written and recorded:"
    print_changes(
        done.changed,
        title if done.changed else "The shop says all of it already.",
        book.units_of(here.folder),
        console(),
    )


@crib.command("compare")
def compare(
    mapping: Annotated[Path, typer.Argument(help="How the control's tables are read: docs/crib.md.")],
    tools: Annotated[
        Path | None, typer.Option("--tools", help="The control's tool table, as saved by the control.")
    ] = None,
    offsets: Annotated[Path | None, typer.Option("--offsets", help="The control's work offsets; with --job.")] = None,
    job: Annotated[str | None, typer.Option("--job", help="The job that the offsets are set for.")] = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Hold the control's own tables against the shop: differences with their numbers, the most dangerous first."""
    from firstoff.sheets.crib_compared import print_compared
    from firstoff.workflows import book, crib_tables
    from firstoff.workflows.crib_json import compared_json

    here = book.shop_book(shop)
    tell_noticed(here.folder, book.notice(here))
    found = crib_tables.compare(here.folder, mapping, tools, offsets, job)
    if json:
        put_out(compared_json(found))
    else:
        print_compared(found, book.units_of(here.folder), console())
    stops = any(one.danger.stops for one in found.differences)
    raise typer.Exit(EXIT_OF_ANSWER["stop" if stops else "care" if found.differences else "clear"])
