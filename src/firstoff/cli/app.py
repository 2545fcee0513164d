"""The command itself, what all commands share, and every way out of them.

Exit codes (CONTRACTS): 0 clear, 3 care, 4 unjudged, 5 stop, 2 the input cannot be used, 1 a fault of ours, 130 interrupted.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from firstoff import interrupts
from firstoff.errors import Fault, InputError, Interrupted, told_of

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


class PaperName(StrEnum):
    """What a PDF is printed on."""

    A4 = "a4"
    LETTER = "letter"


class UnitsName(StrEnum):
    """What lengths are told in."""

    MM = "mm"
    INCH = "inch"


Paper = Annotated[PaperName, typer.Option("--paper", help="What the PDF is printed on.")]


@app.callback(invoke_without_command=True)
def about(version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False) -> None:
    """Examine an NC program against your own milling machine before it runs."""
    if version:
        from firstoff import __version__

        typer.echo(f"firstoff {__version__}")
        raise typer.Exit


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
        if "--json" in sys.argv:
            typer.echo(json.dumps({"faults": told_of(error.faults)}, ensure_ascii=False))
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
