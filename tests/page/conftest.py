"""The command line, as the tests of the shells run it."""

from tests.cli.conftest import run as run
