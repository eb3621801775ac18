"""The command line: the same use cases as the pages, from a shell.

Every command is a thin face: it reads its arguments, calls a use case of care, and prints. Heavy
imports happen inside the commands, so that ``suffice --help`` answers at once.
"""

from __future__ import annotations

import gc
import os
import sys
from functools import cache
from importlib.metadata import version
from typing import Annotated, Any, Final

import typer

from suffice.care.quiet import keep_quiet
from suffice.cli import (
    accounts,
    assessing,
    backup,
    caseload,
    deploy,
    doctor,
    encrypt,
    record,
    server,
    verify,
)
from suffice.cli.console import (
    Exit,
    err,
    exit_code,
    print_words,
    say_problems,
    speaks_for_a_clinic,
)
from suffice.cli.store import speak_as_a_clinic_that_is_there
from suffice.errors import SufficeError
from suffice.message import message

ARITHMETIC_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""One thread each, unless set otherwise: our matrices are small, and several processes share the
cores. Read when numpy is loaded, so they are set before any command runs; children inherit them."""

GARBAGE: Final = (50_000, 20, 20)
"""After how many new objects Python looks for circles among them. A start makes a quarter of a million that are
all kept, content and classes: with Python's own 700 it looks 300 times in vain, a tenth of the start."""

app = typer.Typer(
    name="suffice",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def _say_version(is_asked: bool) -> None:
    if is_asked:
        typer.echo(version("suffice"))
        raise typer.Exit


@app.callback()
def _before_any_command(
    is_asked: Annotated[
        bool,
        typer.Option("--version", callback=_say_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Is it enough, why not, what next, and who else must know."""


app.command("assess")(assessing.assess_file)
app.command("import")(record.import_file)
app.command("export")(record.export_file)
app.command("caseload")(caseload.show)
app.command("refresh")(caseload.refresh)
app.command("serve")(server.serve)
app.command("demo")(server.demo)
app.command("batch")(assessing.batch)
app.command("backup")(backup.backup)
app.command("restore")(backup.restore)
app.command("encrypt")(encrypt.encrypt)
app.command("decrypt")(encrypt.decrypt)
app.command("verify")(verify.verify)
app.command("check")(deploy.check)
app.command("doctor")(doctor.doctor)
users = typer.Typer(help="Who may sign in.", no_args_is_help=True)
users.command("list")(accounts.list_users)
users.command("add")(accounts.add_user)
users.command("deactivate")(accounts.deactivate)
users.command("activate")(accounts.activate)
users.command("reset")(accounts.reset)
users.command("role")(accounts.role)
users.command("duty")(accounts.duty)
users.command("end-sessions")(accounts.end_sessions)
app.add_typer(users, name="user")
teams = typer.Typer(help="Teams, and whose families they are.", no_args_is_help=True)
teams.command("list")(accounts.list_teams)
teams.command("add")(accounts.add_team)
teams.command("rename")(accounts.rename_team)
app.add_typer(teams, name="team")


@cache
def _commands() -> Any:
    """All commands, read from their functions once."""
    return typer.main.get_command(app)


def main() -> None:
    """The entry point: refusals become one line each and an exit code, our own bugs their frames."""
    keep_quiet()
    gc.set_threshold(*GARBAGE)
    for name in ARITHMETIC_THREADS:
        os.environ.setdefault(name, "1")
    try:
        _commands()()
    except SufficeError as error:
        # What is refused before a record is opened is refused in the clinic's language all the same.
        if not speaks_for_a_clinic():
            speak_as_a_clinic_that_is_there()
        say_problems(error)
        sys.exit(exit_code(error))
    except KeyboardInterrupt:
        print_words(message("Stopped. What was stored stays stored."), to=err)
        sys.exit(Exit.INTERRUPTED)
    except BrokenPipeError:
        # The reader (head, less) has seen enough.
        sys.stderr.close()
        sys.exit(Exit.OK)
