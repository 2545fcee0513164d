"""Commands that read and judge programs: a thin adapter of `workflows`. Answers go to stdout, progress and messages to stderr."""

from __future__ import annotations

import sys
from json import dumps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from firstoff.cli.app import (
    EXIT_OF_ANSWER,
    Base,
    Json,
    NoShop,
    Paper,
    PaperName,
    Shop,
    UnitsName,
    app,
    console,
    telling,
)
from firstoff.cli.facts import tell_noticed
from firstoff.errors import Fault, InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from firstoff.book.kept import RunSaid
    from firstoff.workflows import Prepared
    from firstoff.workflows.running import Kept


@app.command()
def examine(
    jobs: Annotated[
        list[str], typer.Argument(help="A job folder, a job.toml, a job's name in the shop, or a bare NC program.")
    ],
    shop: Shop = None,
    no_shop: NoShop = False,
    base: Base = None,
    json: Json = False,
    material: Annotated[str | None, typer.Option(help="Bare program: the material's name.")] = None,
    stock: Annotated[str | None, typer.Option(help='Bare program: "box 0..80 0..50 -12..0 mm".')] = None,
    tool: Annotated[
        list[str] | None, typer.Option(help="Bare program: 3=NAME, what T3 is meant to be; may repeat.")
    ] = None,
    offset: Annotated[
        list[str] | None, typer.Option(help='Bare program: "G54=121.4 88.1 -96.5 mm"; may repeat.')
    ] = None,
    holding: Annotated[str | None, typer.Option(help="Bare program: how the part is held, e.g. vice.")] = None,
    highest_around: Annotated[
        str | None, typer.Option(help='Bare program: top of clamps and jaws, work frame, e.g. "-6 mm".')
    ] = None,
    touched_with: Annotated[
        str | None, typer.Option(help="Bare program without G43: the tool whose tip set the work zero.")
    ] = None,
    allowed_below: Annotated[
        str | None, typer.Option(help='Bare program: how deep a tool may go, e.g. "-14.5 mm".')
    ] = None,
    html: Annotated[
        Path | None, typer.Option("--html", help="Also write the examination to this file, as one page.")
    ] = None,
    stock_out: Annotated[
        Path | None,
        typer.Option("--stock-out", help="Also write the stock as the program leaves it to this STL file, in mm."),
    ] = None,
    no_book: Annotated[
        bool, typer.Option("--no-book", help="Keep nothing in the shop's book, and ask it nothing.")
    ] = False,
) -> None:
    """Put every question to one or more jobs: clear, care, unjudged or stop, for machine, tool, part and time."""
    from firstoff import workflows
    from firstoff.workflows import running

    given = workflows.Given(
        material, stock, tuple(tool or ()), tuple(offset or ()), holding, highest_around, allowed_below, touched_with
    )
    one_job_only(jobs, html, stock_out)
    codes = []
    records = []
    examined = []
    for job in jobs:
        with telling() as tell:
            prepared = workflows.prepare(job, shop=shop, without_shop=no_shop, base=base, given=given, tell=tell)
            examination = workflows.judge(prepared, tell=tell)
            kept = None if no_book else running.try_to_keep(prepared, examination, job, given, base)
        runs = told_of(kept, prepared)
        codes.append(EXIT_OF_ANSWER[examination.verdict.value])
        examined.append((job_title(job) or job, examination))
        # Files first: `| head` may end us while we show the answers.
        if html is not None:
            workflows.write_examination(examination, html, job_title(job))
            typer.echo(f"Page written to {html}.", err=True)
        if stock_out is not None:
            workflows.write_stock(examination, stock_out)
            typer.echo(f"Stock written to {stock_out}.", err=True)
        if json:
            records.append(workflows.examination_json(examination, runs))
        else:
            workflows.show_examination(examination, console(), job_title(job), runs or ())
    if len(examined) > 1 and not json:
        workflows.show_jobs(examined, console())
    if json:
        sys.stdout.write(records[0] if len(records) == 1 else "[" + ",\n".join(records) + "]")
        sys.stdout.write("\n")
    raise typer.Exit(max(codes))


def told_of(kept: Kept | InputError | None, prepared: Prepared) -> Sequence[RunSaid] | None:
    """Say on stderr what the book noticed, or why it kept nothing; returns the earlier runs where it was asked."""
    if isinstance(kept, InputError):
        from firstoff.sheets.book_pages import print_sentences

        print_sentences([f"Not kept in the book. {fault}" for fault in kept.faults], console(stderr=True))
        return None
    if kept is None:
        return None
    folder = prepared.job.shop.folder
    if folder is not None:
        tell_noticed(folder, kept.noticed)
    return kept.runs


@app.command()
def ran(
    job: Annotated[str, typer.Argument(help="As for examine.")],
    note: Annotated[
        str,
        typer.Argument(
            help='One line: "good", "rang", "size +0.03 on the bore", "broke T3 at line 812", or your own words.'
        ),
    ],
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Note how a run went; the next examination of the job says it again."""
    from firstoff.sheets.book_pages import print_sentences
    from firstoff.sheets.run_words import run_sentences
    from firstoff.workflows import running

    with telling() as tell:
        done = running.note_run(job, note, shop=shop, tell=tell)
    said = done.note
    if json:
        record = {
            "schema": "firstoff.ran/1",
            "entry": done.number,
            "job": done.job,
            "outcome": said.outcome,
            "note": said.text,
        }
        found = {
            "tool": done.tool,
            "line": said.line,
            "off_mm": said.off_mm,
            "feature": said.feature,
            "minutes": dict(done.minutes),
        }
        sys.stdout.write(dumps({**record, **found}, ensure_ascii=False, indent=1) + "\n")
        return
    named = [f"T{said.tool}" + (f" ({done.tool})" if done.tool else "")] if said.tool is not None else []
    named += [f"line {said.line}"] if said.line is not None else []
    named += [f"{said.off_mm:+.3g} mm"] if said.off_mm is not None else []
    head = f"{done.job}: noted as {said.outcome}{': ' if named else ''}{', '.join(named)}."
    print_sentences((head, *run_sentences(done.runs), *done.remarks), console())


@app.command()
def read(
    program: Annotated[Path, typer.Argument(help="An NC program.")],
    shop: Shop = None,
    no_shop: NoShop = False,
    base: Base = None,
    json: Json = False,
) -> None:
    """Say what an NC program does, word by word, without needing a machine."""
    from firstoff import workflows

    with telling() as tell:
        found = workflows.read(program, shop=shop, without_shop=no_shop, base=base, tell=tell)
    if json:
        sys.stdout.write(workflows.read_json(found) + "\n")
    else:
        workflows.show_reading(found, console())
    raise typer.Exit(0 if found.record.understood else EXIT_OF_ANSWER["unjudged"])


@app.command()
def sheet(
    job: Annotated[str, typer.Argument(help="As for examine.")],
    html: Annotated[
        Path | None, typer.Option("--html", help="Write the set-up sheet to this file, as one page for a browser.")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", help="Write it to this file as a PDF of at most two pages.")
    ] = None,
    paper: Paper = PaperName.A4,
    units: Annotated[
        UnitsName | None, typer.Option("--units", help="Tell lengths in these, not in what the shop shows.")
    ] = None,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Write the set-up sheet that is taped to the enclosure."""
    from firstoff import workflows
    from firstoff.workflows import running

    if html is None and pdf is None:
        raise InputError(Fault("nothing to write the sheet to", "", "--html FILE, --pdf FILE, or both"))
    workflows.refuse_sheet_taken(html, pdf)
    with telling() as tell:
        prepared = workflows.prepare(job, shop=shop, tell=tell)
        examination = workflows.judge(prepared, tell=tell)
        kept = running.try_to_keep(prepared, examination, job, None, None)
        if units is not None:
            examination = workflows.shown_in(prepared, examination, units)
        tell("drawing the sheet", 0.95)
        if html is not None:
            workflows.write_sheet(prepared, examination, html)
        if pdf is not None:
            workflows.write_sheet_pdf(prepared, examination, pdf, paper)
    told_of(kept, prepared)
    if json:
        sys.stdout.write(workflows.examination_json(examination) + "\n")
    else:
        written = " and ".join(str(path) for path in (html, pdf) if path is not None)
        typer.echo(f"{examination.verdict.value.capitalize()}. Sheet written to {written}.", err=True)
    raise typer.Exit(EXIT_OF_ANSWER[examination.verdict.value])


@app.command("restart")
def restart_from(
    job: Annotated[str, typer.Argument(help="As for examine.")],
    tool: Annotated[int, typer.Option("--tool", help="Go on with this T.")],
    out: Annotated[Path, typer.Option("--out", help="Write the program to this file.")],
    use: Annotated[int, typer.Option("--use", help="With its first, second ... use.")] = 1,
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Write a program that goes on from a chosen tool, with everything said again; examine it before it runs."""
    from firstoff import workflows

    with telling() as tell:
        reading = workflows.write_restart(job, tool, out, use=use, shop=shop, tell=tell)
    if json:
        sys.stdout.write(dumps({"schema": "firstoff.restart/1", "written": str(out), "lines": reading.lines}) + "\n")
    else:
        typer.echo(f"{out}: {reading.lines} lines, from T{tool} on.")
        typer.echo(
            "Examine it before it runs: copy the job's folder, put this file in as its program, and examine that."
        )


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="A new folder.")],
    json: Json = False,
) -> None:
    """Write a commented starter shop: five facts, one job, and where the rest goes."""
    from firstoff import workflows

    written = workflows.new(folder)
    if json:
        sys.stdout.write(dumps({"schema": "firstoff.new/1", "written": [str(path) for path in written]}) + "\n")
    else:
        typer.echo("Written:\n" + "\n".join(f"  {path}" for path in written))
        typer.echo(f"\nNext: firstoff examine {folder / 'jobs' / 'first'}")


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="A new folder, or one that an earlier demo made.")] = Path(
        "firstoff-demo"
    ),
    json: Json = False,
) -> None:
    """Lay out a demo shop of our own invention and examine its jobs."""
    from firstoff.demo import show

    with telling() as tell:
        result = show.examine_demo(folder, tell=tell, with_year=True)
    if json:
        sys.stdout.write(show.demo_json(result) + "\n")
    else:
        show.show_demo(result, console())


def one_job_only(jobs: list[str], html: Path | None, stock_out: Path | None) -> None:
    """One file holds one job: several would write over each other. What cannot be written is refused before anything is examined."""
    from firstoff import workflows

    named = {"--html": html, "--stock-out": stock_out}
    for option, path in named.items():
        if path is not None and len(jobs) > 1:
            do = "Examine the jobs one by one, each with its own file."
            raise InputError(Fault(f"{option} takes one job", f"{len(jobs)} jobs", "one job", do=do))
    workflows.refuse_taken(html, stock_out)


def job_title(job: str) -> str:
    """What a job is called: its folder's name, or nothing where it is a bare program (its file is named anyway)."""
    path = Path(job)
    if path.is_file():
        return path.resolve().parent.name if path.name == "job.toml" else ""
    return path.resolve().name if path.is_dir() else job
