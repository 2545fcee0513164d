"""The command line: a thin adapter of `workflows`. Answers go to stdout, progress and messages to stderr.

Exit codes (CONTRACTS): 0 clear, 3 care, 4 unjudged, 5 stop, 2 the input cannot be used, 1 a fault of ours, 130 interrupted.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from json import dumps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from firstoff import interrupts
from firstoff.errors import Fault, InputError, Interrupted

if TYPE_CHECKING:
    from rich.console import Console

EXIT_OF_ANSWER = {"clear": 0, "care": 3, "unjudged": 4, "stop": 5}
OUR_FAULT, BAD_INPUT, INTERRUPTED = 1, 2, interrupts.EXIT_CODE

app = typer.Typer(
    name="firstoff",
    no_args_is_help=True,
    add_completion=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Examine an NC program against your own milling machine before it runs.",
    epilog="Exit codes: 0 clear, 3 care, 4 unjudged, 5 stop, 2 input that cannot be used, 1 a fault of ours, 130 interrupted.",
)

Shop = Annotated[Path | None, typer.Option("--shop", help="Shop folder (holds machine.toml).")]
NoShop = Annotated[bool, typer.Option("--no-shop", help="Use no shop at all: every missing fact becomes a need.")]
Base = Annotated[
    str | None,
    typer.Option("--base", help="Language where no machine says: rs274ngc (the report to the letter) or plain."),
]
Json = Annotated[bool, typer.Option("--json", help="Print the published record instead of words.")]


@app.callback(invoke_without_command=True)
def about(version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False) -> None:
    """Examine an NC program against your own milling machine before it runs."""
    if version:
        from firstoff import __version__

        typer.echo(f"firstoff {__version__}")
        raise typer.Exit


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
) -> None:
    """Put every question to one or more jobs: clear, care, unjudged or stop, for machine, tool, part and time."""
    from firstoff import workflows

    given = workflows.Given(
        material, stock, tuple(tool or ()), tuple(offset or ()), holding, highest_around, allowed_below, touched_with
    )
    one_job_only(jobs, html, stock_out)
    codes = []
    records = []
    examined = []
    for job in jobs:
        with telling() as tell:
            examination = workflows.examine_job(job, shop=shop, without_shop=no_shop, base=base, given=given, tell=tell)
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
            records.append(workflows.examination_json(examination))
        else:
            workflows.show_examination(examination, console(), job_title(job))
    if len(examined) > 1 and not json:
        workflows.show_jobs(examined, console())
    if json:
        sys.stdout.write(records[0] if len(records) == 1 else "[" + ",\n".join(records) + "]")
        sys.stdout.write("\n")
    raise typer.Exit(max(codes))


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
    html: Annotated[Path, typer.Option("--html", help="Write the set-up sheet to this file.")],
    shop: Shop = None,
    json: Json = False,
) -> None:
    """Write the set-up sheet that is taped to the enclosure."""
    from firstoff import workflows

    with telling() as tell:
        examination = workflows.write_sheet(job, html, shop=shop, tell=tell)
    if json:
        sys.stdout.write(workflows.examination_json(examination) + "\n")
    else:
        typer.echo(f"{examination.verdict.value.capitalize()}. Sheet written to {html}.", err=True)
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
        result = show.examine_demo(folder, tell=tell)
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


def console(stderr: bool = False) -> Console:
    """A console that keeps to the terminal's width and colours (NO_COLOR and COLUMNS are obeyed)."""
    from rich.console import Console

    return Console(stderr=stderr, highlight=False, soft_wrap=False)


@contextmanager
def telling() -> Iterator[Callable[[str, float], None]]:
    """Progress on stderr, with time left, where somebody is looking at it."""
    if not sys.stderr.isatty():
        yield lambda _stage, _part: None
        return
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn

    # The time that has passed moves even while the very first run compiles its kernels and nothing else does.
    columns = (
        SpinnerColumn("line"),
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with (
        Progress(*columns, console=console(stderr=True), transient=True) as progress,
        interrupts.first(progress.stop),
    ):
        task = progress.add_task("", total=1.0)
        yield lambda stage, part: progress.update(task, description=stage, completed=part)


def main() -> None:
    """The `firstoff` command: every way out has its exit code, and no way out shows a traceback."""
    if hasattr(signal, "SIGPIPE"):
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)  # `| head` ends us quietly, as it ends every other command
    try:
        app()
    except InputError as error:
        from firstoff import workflows

        workflows.show_faults(error, console(stderr=True))
        sys.exit(BAD_INPUT)
    except (KeyboardInterrupt, Interrupted):
        typer.echo(interrupts.STOPPED, err=True)
        sys.exit(INTERRUPTED)
    except OSError as error:
        typer.echo(str(Fault(f"{error.strerror or error}", str(error.filename or ""))), err=True)
        sys.exit(BAD_INPUT)
    except Exception as error:
        if os.environ.get("FIRSTOFF_TRACEBACK"):
            raise
        typer.echo(
            f"A fault of ours ({type(error).__name__}: {error}). Nothing was judged. "
            "Run again with FIRSTOFF_TRACEBACK=1 and send us what it says.",
            err=True,
        )
        sys.exit(OUR_FAULT)


if __name__ == "__main__":
    interrupts.obey()
    main()
