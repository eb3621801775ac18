"""``suffice import`` and ``suffice export``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated
from uuid import UUID

import typer

from suffice.cli.assessing import read_bytes
from suffice.cli.console import err, out
from suffice.cli.moment import now_utc
from suffice.cli.store import open_record
from suffice.errors import InputError, Problem


def import_file(
    file: Annotated[Path, typer.Argument(help="A family (JSON) or a table (CSV).")],
    confirm: Annotated[
        bool, typer.Option("--confirm", help="Doubtful values were looked at and are right.")
    ] = False,
) -> None:
    """Put a family file, or a table of weights, feeds and output, on the record."""
    content = read_bytes(file)
    open_record()
    if file.suffix.lower() == ".csv":
        return
    _import_family(content, confirm=confirm)


def _import_family(content: bytes, *, confirm: bool) -> None:
    from suffice.care.transfer import import_family  # noqa: PLC0415

    done = import_family(content, now=now_utc(), confirmed=confirm)
    word = "Opened" if done.is_new else "Family"
    out.print(
        f"{word} {done.family_id}: {len(done.appended.new)} entries added,"
        f" {len(done.appended.already_there)} were there already."
    )


def export_file(
    family_id: Annotated[str, typer.Argument(help="The family's id, as on its page.")],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="A new file; standard output if left out.")
    ] = None,
) -> None:
    """Write a family as a JSON file that import reads back without loss."""
    try:
        key = UUID(family_id)
    except ValueError:
        raise InputError(
            Problem(
                code="CLI-007",
                what=f"'{family_id}'",
                why="is not the id of a family.",
                fix="Copy it from the family's page or from the caseload.",
            )
        ) from None
    open_record()
    from suffice.care.transfer import export_family  # noqa: PLC0415

    content = export_family(key)
    if output is None:
        sys.stdout.buffer.write(content)
        return
    try:
        with output.open("xb") as opened:
            opened.write(content)
    except OSError as error:
        raise InputError(
            Problem(
                code="CLI-008",
                what=f"{output}",
                why=f"cannot be written: {error.strerror}.",
                fix="Name a new file in a folder that you may write to.",
            )
        ) from None
    err.print(f"Wrote {output}.")
