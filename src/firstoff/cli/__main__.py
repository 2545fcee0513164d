"""``python -m firstoff.cli``."""

from firstoff import interrupts
from firstoff.cli import main

if __name__ == "__main__":
    interrupts.obey()
    main()
