"""The commands and what the process returns.

Answers go to standard output, everything else to standard error. Only the command that is called
is imported, and it imports what it needs inside its body, so that `next` starts fast.
"""

from __future__ import annotations

import os
import sys

import typer

from brinebayes.cli.on_demand import OnDemand
from brinebayes.errors import BrinebayesError

app = typer.Typer(
    cls=OnDemand,
    # With a callback typer makes a group although no command is registered yet.
    callback=lambda: None,
    help="What to check or repair next on a household water softener, and why.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

INTERRUPTED = 130


def main() -> None:
    """Run the command line; errors become one line and the exit code of their class."""
    try:
        code = app(prog_name="brinebayes", standalone_mode=False)
        sys.stdout.flush()
    except BrinebayesError as error:
        print(f"brinebayes: {error}", file=sys.stderr)
        code = error.exit_code
    except typer.Abort:
        code = INTERRUPTED
    except KeyboardInterrupt:
        code = INTERRUPTED
    except BrokenPipeError:
        # The reader went away; nothing is left to say, and the interpreter must not say it either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 1
    except OSError as error:
        print(f"brinebayes: {error.strerror}: {error.filename or 'output'}", file=sys.stderr)
        code = 1
    except Exception as error:
        if not hasattr(error, "exit_code") or not hasattr(error, "show"):
            raise
        error.show()
        code = error.exit_code
    sys.exit(code if isinstance(code, int) else 0)


if __name__ == "__main__":
    main()
