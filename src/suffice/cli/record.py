"""``suffice import`` and ``suffice export``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal
from uuid import UUID

import typer

from suffice.cli.assessing import read_bytes
from suffice.cli.console import err, print_words, problem_line
from suffice.cli.moment import now_utc
from suffice.cli.noted import note_command
from suffice.cli.store import open_record
from suffice.cli.system import reason_of
from suffice.errors import InputError, Problem
from suffice.exchange.moment import read_instant
from suffice.message import message

# As suffice.exchange has them; importing them from there would slow every command down.
DecimalMark = Literal[".", ","]
DateOrder = Literal["day first", "month first"]
RepeatedHour = Literal["first", "second"]

if TYPE_CHECKING:
    from suffice.exchange.table.options import CsvOptions

IMPORTING = {
    "waiting": message("waiting for another import to end"),
    "reading": message("reading rows"),
    "checking": message("checking rows"),
    "storing": message("storing entries"),
    "assessing": message("assessing families"),
}
TABLE_ENDINGS = frozenset({".csv", ".tsv", ".txt"})


def import_file(  # noqa: PLR0913, PLR0917 -- each is an option of the command line
    file: Annotated[Path, typer.Argument(help="A family (JSON) or a table (CSV).")],
    confirm: Annotated[
        bool, typer.Option("--confirm", help="Doubtful values were looked at and are right.")
    ] = False,
    source: Annotated[
        str, typer.Option(help="CSV of a cohort: the name under which its infants are kept.")
    ] = "",
    family: Annotated[
        str | None, typer.Option(help="CSV of one family: its id on the record.")
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(help="CSV: what a column means, like 'wt=weight kg' or 'x=ignored'."),
    ] = None,
    zone: Annotated[
        str | None, typer.Option(help="CSV: IANA time zone of its times; the clinic's if left out.")
    ] = None,
    time_of_day: Annotated[
        str | None, typer.Option(help="CSV: local time where it has dates only, like 12:00.")
    ] = None,
    born: Annotated[
        str | None,
        typer.Option(help="CSV with ages and no births: the birth that ages count from."),
    ] = None,
    first_is_birth_weight: Annotated[
        bool, typer.Option("--first-is-birth-weight", help="CSV: a weight at age 0 is that too.")
    ] = False,
    over_h: Annotated[
        float | None, typer.Option(help="CSV: hours that a count of wets or stools covers.")
    ] = None,
    leave_out_bad_rows: Annotated[
        bool, typer.Option("--leave-out-bad-rows", help="CSV: import the rest, and list them.")
    ] = False,
    leave_out_doubtful_rows: Annotated[
        bool,
        typer.Option(
            "--leave-out-doubtful-rows",
            help="CSV: leave out doubtful values too; a deep loss is one, so look at each first.",
        ),
    ] = False,
    encoding: Annotated[
        str | None, typer.Option(help="CSV that is not UTF-8: cp1252, latin-1 or utf-16.")
    ] = None,
    delimiter: Annotated[
        str | None, typer.Option(help="CSV: what separates its columns, if it is not clear.")
    ] = None,
    decimal_mark: Annotated[
        DecimalMark | None, typer.Option(help="CSV: the mark before decimals.")
    ] = None,
    date_order: Annotated[
        DateOrder | None, typer.Option(help="CSV: what comes first in 03/04/2026.")
    ] = None,
    repeated_hour: Annotated[
        RepeatedHour | None,
        typer.Option(help="CSV: which is meant by a time that came twice when clocks went back."),
    ] = None,
    team: Annotated[
        str | None,
        typer.Option(help="The team to which new families go; asked for where there are several."),
    ] = None,
    preview: Annotated[
        bool, typer.Option("--preview", help="Show what would be imported; store nothing.")
    ] = False,
    user: Annotated[str, typer.Option(help="Who imports it.")] = "import",
) -> None:
    """Import a family file, or a table of weights, feeds and output."""
    # Opened before the file is read, so that a file that cannot be is refused in the clinic's words.
    open_record()
    content = read_bytes(file)
    is_family = content.lstrip()[:1] in {b"{", b"["} or file.suffix.lower() == ".json"
    if not is_family and file.suffix.lower() not in TABLE_ENDINGS:
        raise InputError(_unknown_file_kind(file))
    if is_family:
        if preview:
            _preview_family(content, confirm=confirm)
        else:
            _import_family(content, confirm=confirm, user=user, team_id=_team_called(team))
            _note_import()
        return
    from suffice.care.clinic.clinic import clinic  # noqa: PLC0415
    from suffice.exchange.table.options import CsvOptions  # noqa: PLC0415

    policy = clinic().policy
    place = zone or policy.zone
    options = CsvOptions(
        zone=place,
        entered_by=user,
        entered_at=now_utc(),
        source=source,
        columns=_columns(column or []),
        time_of_day=time_of_day,
        born_at=None if born is None else read_instant(born, place, option="--born"),
        first_is_birth_weight=first_is_birth_weight,
        over_h=over_h,
        leave_out_bad_rows=leave_out_bad_rows,
        leave_out_doubtful_rows=leave_out_doubtful_rows,
        encoding=encoding,
        delimiter=delimiter,
        decimal_mark=decimal_mark,
        date_order=date_order,
        repeated_hour=repeated_hour,
        accept_doubtful=confirm,
        language=policy.language,
    )
    family_id = None if family is None else family_id_of(family)
    if preview:
        _preview(content, options, family_id)
    else:
        _import_table(content, options, family_id, _team_called(team))
        _note_import(family_id)


def _note_import(family_id: UUID | None = None) -> None:
    from suffice.care.trail import Act  # noqa: PLC0415

    note_command(Act.IMPORT, "import", family_id=family_id)


def _columns(options: list[str]) -> dict[str, str]:
    """What the options say of columns, by name."""
    pairs = [text.partition("=") for text in options]
    wrong = [
        Problem(
            code="CLI-009",
            what=message("'{name}{mark}{meaning}'", name=name, mark=mark, meaning=meaning),
            why=message("does not say what a column means."),
            fix=message("Write it like --column 'wt=weight kg'."),
            where="--column",
        )
        for name, mark, meaning in pairs
        if not (name.strip() and meaning.strip())
    ]
    if wrong:
        raise InputError(*wrong)
    return {name.strip(): meaning.strip() for name, _, meaning in pairs}


def _preview(content: bytes, options: CsvOptions, family_id: UUID | None) -> None:
    from suffice.care.family.transfer import preview_csv  # noqa: PLC0415
    from suffice.cli.listing import print_preview  # noqa: PLC0415

    shown = preview_csv(content, options, family_id)
    print_preview(shown)
    if shown.questions:
        raise InputError(*shown.questions)


def _team_called(name: str | None) -> UUID | None:
    from suffice.cli.accounts import team_called  # noqa: PLC0415

    return None if name is None else team_called(name)


def _import_table(
    content: bytes, options: CsvOptions, family_id: UUID | None, team_id: UUID | None
) -> None:
    from suffice.care.family.transfer import import_csv  # noqa: PLC0415
    from suffice.cli.progress import stages  # noqa: PLC0415

    with stages(IMPORTING) as watch:
        done = import_csv(
            content,
            options,
            now=options.entered_at,
            family_id=family_id,
            team_id=team_id,
            watch=watch,
        )
    for problem in done.read.left_out:
        print_words(message("left out: {problem}", problem=problem_line(problem)), to=err)
    print_words(
        message(
            "Rows read: {rows}; families opened: {families}; entries added: {entries}, there already:"
            " {repeated}; problems left out: {left_out}; doubts confirmed: {doubts}.",
            rows=done.read.row_count,
            families=done.opened_count,
            entries=done.entry_count,
            repeated=done.read.repeated_count,
            left_out=len(done.read.left_out),
            doubts=len(done.read.doubts),
        )
    )


def _preview_family(content: bytes, *, confirm: bool) -> None:
    from suffice.care.clinic.clinic import clinic  # noqa: PLC0415
    from suffice.care.family.transfer import preview_family  # noqa: PLC0415
    from suffice.cli.listing import print_family_preview  # noqa: PLC0415

    shown = preview_family(content, now=now_utc())
    print_family_preview(shown, clinic().policy.zone)
    if problems := shown.refused or (() if confirm else shown.doubts):
        raise InputError(*problems)


def _import_family(content: bytes, *, confirm: bool, user: str, team_id: UUID | None) -> None:
    from suffice.care.family.transfer import import_family  # noqa: PLC0415

    done = import_family(content, now=now_utc(), actor=user, confirmed=confirm, team_id=team_id)
    counts = message("Entries added: {new}; there already: {there}.")
    print_words(
        message(
            "Family {id}, {state}. {counts}",
            id=str(done.family_id),
            state=message("newly opened") if done.is_new else message("on the record"),
            counts=counts.with_params(
                new=len(done.appended.new), there=len(done.appended.already_there)
            ),
        )
    )


def export_file(
    family_id: Annotated[str, typer.Argument(help="The family's id, as on its page.")],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="A new file; standard output if left out.")
    ] = None,
) -> None:
    """Write a family as a JSON file that import reads back without loss."""
    key = family_id_of(family_id)
    open_record()
    from suffice.care.family.transfer import export_family  # noqa: PLC0415
    from suffice.care.trail import Act  # noqa: PLC0415

    content = export_family(key)
    # Before anything has left: what cannot be noted is not held back by it.
    note_command(Act.EXPORT, "export", family_id=key)
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
                what=str(output),
                why=message("cannot be written: {reason}.", reason=reason_of(error)),
                fix=message("Name a new file in a folder that you may write to."),
            )
        ) from None
    print_words(message("Wrote {path}.", path=str(output)), to=err)


def _unknown_file_kind(file: Path) -> Problem:
    return Problem(
        code="CLI-012",
        what=str(file),
        why=message("is neither a family file (.json) nor a table (.csv)."),
        fix=message("Save a spreadsheet as CSV (UTF-8) in the program that wrote it."),
    )


def family_id_of(text: str) -> UUID:
    """The id of a family from an option.

    Raises:
        InputError: CLI-007.
    """
    try:
        return UUID(text)
    except ValueError:
        raise InputError(
            Problem(
                code="CLI-007",
                what=message("'{text}'", text=text),
                why=message("is not the id of a family."),
                fix=message("Copy it from the address of the family's page."),
            )
        ) from None
