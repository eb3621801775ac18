"""The command line: the same use cases as the pages, from a shell.

Every command is a thin face: it reads its arguments, calls a use case of care, and prints. Heavy
imports happen inside the commands, so that ``suffice --help`` answers at once.
"""

from __future__ import annotations

import os
import sys

import typer

from suffice.cli import assessing, caseload, record, server
from suffice.cli.console import Exit, err, exit_code, print_words, say_problems
from suffice.errors import SufficeError
from suffice.message import message

ARITHMETIC_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""One thread each, unless set otherwise: our matrices are small, and several processes share the
cores. Read when numpy is loaded, so they are set before any command runs; children inherit them."""

app = typer.Typer(
    name="suffice",
    help="Is it enough, why not, what next, and who else must know.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command("assess")(assessing.assess_file)
app.command("import")(record.import_file)
app.command("export")(record.export_file)
app.command("caseload")(caseload.show)
app.command("refresh")(caseload.refresh)
app.command("serve")(server.serve)
app.command("demo")(server.demo)
app.command("batch")(assessing.batch)
users = typer.Typer(help="Who may sign in.", no_args_is_help=True)
users.command("add")(server.add_user)
app.add_typer(users, name="user")


def main() -> None:
    """The entry point: refusals become one line each and an exit code, our own bugs a traceback."""
    for name in ARITHMETIC_THREADS:
        os.environ.setdefault(name, "1")
    try:
        app()
    except SufficeError as error:
        say_problems(error)
        sys.exit(exit_code(error))
    except KeyboardInterrupt:
        print_words(message("Stopped. What was stored stays stored."), to=err)
        sys.exit(Exit.INTERRUPTED)
    except BrokenPipeError:
        # The reader (head, less) has seen enough.
        sys.stderr.close()
        sys.exit(Exit.OK)
