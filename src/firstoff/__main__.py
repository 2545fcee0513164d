"""The way in of the command: interrupts are obeyed from here on, while the command itself is still being loaded."""

from firstoff.interrupts import obey


def main() -> None:
    """`firstoff` and ``python -m firstoff``."""
    obey()
    from firstoff import cli

    cli.main()


if __name__ == "__main__":
    main()
