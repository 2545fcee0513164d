"""The command line: a thin adapter of `workflows`, a module for each family of commands. Importing it imports no numerics."""

from firstoff.cli import book as book
from firstoff.cli import crib as crib
from firstoff.cli import examining as examining  # its commands join the app as they are imported
from firstoff.cli import facts as facts
from firstoff.cli import pages as pages
from firstoff.cli import recheck as recheck
from firstoff.cli.app import OUR_FAULT as OUR_FAULT
from firstoff.cli.app import app as app
from firstoff.cli.app import main as main
from firstoff.cli.app import telling as telling
