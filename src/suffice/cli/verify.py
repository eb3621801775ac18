"""``suffice verify``: whether anything of the record was changed outside the program."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Annotated

import typer

from suffice.cli.console import err, print_words, problem_line
from suffice.cli.moment import now_utc
from suffice.cli.noted import note_command
from suffice.cli.record import family_id_of
from suffice.cli.store import open_record
from suffice.errors import DamageError, InputError, Problem, StorageError
from suffice.message import Amount, Instant, message

if TYPE_CHECKING:
    from uuid import UUID

    from suffice.record.newest import Looked
    from suffice.record.verify import Checked, Found

LINKS = message("{count} link", plural="{count} links")
ROWS = message("{count} row", plural="{count} rows")
NAMED = 200
"""Findings that are named; there may be as many as rows."""


def verify(
    quick: Annotated[
        bool,
        typer.Option("--quick", help="Triggers, pages and the newest entries only: some seconds."),
    ] = False,
    accept: Annotated[
        str | None,
        typer.Option(help="Go on with what is found: the reason. The damage stays listed."),
    ] = None,
    by: Annotated[
        str | None, typer.Option(help="With --accept: the user who answers for it.")
    ] = None,
    family: Annotated[
        str | None,
        typer.Option(help="With --accept: only what is wrong with this family, by its id."),
    ] = None,
) -> None:
    """Check the chains of everything that is stored; names what was changed, removed or added."""
    open_record()
    from suffice.care import verifying  # noqa: PLC0415
    from suffice.care.trail import Act  # noqa: PLC0415

    answered = False
    answering = None if accept is None else _answering(accept, by, family)
    note_command(Act.RECORD, "verify")
    clocked = verifying.wrong_clock(now_utc())
    if clocked is not None:
        err.print(problem_line(clocked), markup=False)
    began_s = time.monotonic()
    if quick and answering is None:
        looked = verifying.look()
        say_looked(looked)
        found = looked.found
    else:
        checked = verifying.check_whole()
        if answering is not None:
            who, why, family_id = answering
            verifying.accept(checked, family_id, who=who, why=why)
        found, answered = _left_open(checked)
        print_words(
            message(
                "{links} and {rows} checked in {time}.",
                links=LINKS.with_params(count=checked.link_count),
                rows=ROWS.with_params(count=checked.row_count),
                time=Amount(time.monotonic() - began_s, "s", decimals=1),
            )
        )
        for before, after in checked.back:
            print_words(
                message(
                    "The clock went back from {before} to {after}; entries between are dated wrong.",
                    before=Instant(before, year=True),
                    after=Instant(after, year=True),
                )
            )
    if found:
        _say_count(len(found))
        raise DamageError(*verifying.problems_of(found[:NAMED]))
    if answered:
        print_words(message("Nothing else is wrong."))
        return
    print_words(message("Nothing was changed, removed or added outside the program."))


def _answering(why: str, by: str | None, family: str | None) -> tuple[str, str, UUID | None]:
    """The user who accepts damage, the reason, and the family that it is about.

    Raises:
        InputError: CLI-019, when one of them is missing or nobody.
    """
    from suffice.care.clinic import people  # noqa: PLC0415

    if not why.strip() or by is None or not people.is_user(by):
        raise InputError(
            Problem(
                code="CLI-019",
                what=message("Damage of the record"),
                why=message("is accepted by somebody who can sign in here, with a reason."),
                fix=message("Write both: --accept 'restored from paper, 3 March' --by NAME."),
                where="--by" if why.strip() else "--accept",
            )
        )
    return by, why.strip(), None if family is None else family_id_of(family)


def _left_open(checked: Checked) -> tuple[tuple[Found, ...], bool]:
    """Say what was accepted, each with who and why; what nobody answers for, and whether any was."""
    from suffice.care import verifying  # noqa: PLC0415
    from suffice.record import accepted  # noqa: PLC0415

    answered = accepted.among(checked.found)
    for found, answer in answered.items():
        (problem,) = verifying.problems_of([found])
        print_words(
            message(
                "accepted by {who}, {at} ({why}): {problem}",
                who=answer.who,
                at=Instant(answer.at, year=True),
                why=answer.why,
                problem=problem_line(problem),
            )
        )
    return tuple(one for one in checked.found if one not in answered), bool(answered)


def _say_count(count: int) -> None:
    found = message("{count} thing is wrong.", plural="{count} things are wrong.", count=count)
    print_words(found, to=err)


def say_looked(looked: Looked) -> None:
    """What a quick look has read."""
    print_words(
        message(
            "Checked: triggers, {pages}, the newest {checked} of {all} links.",
            pages=message("all pages") if looked.pages else message("no pages"),
            checked=looked.checked,
            all=looked.link_count,
        )
    )


def look_at_start() -> None:
    """The quick look of the server: it says what it did, and goes on whatever it finds."""
    from suffice.care import verifying  # noqa: PLC0415

    try:
        looked = verifying.look()
    except StorageError as error:
        for problem in error.problems:
            err.print(problem_line(problem), markup=False)
        return
    say_looked(looked)
    for problem in verifying.problems_of(looked.found[:NAMED]):
        err.print(problem_line(problem), markup=False)
    clocked = verifying.wrong_clock(now_utc())
    if clocked is not None:
        err.print(problem_line(clocked), markup=False)
