"""The command line; workers find what they run in `proof.faults.run`."""

import sys

from proof.faults.run import main

if __name__ == "__main__":
    sys.exit(main())
