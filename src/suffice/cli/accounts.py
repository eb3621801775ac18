"""``suffice user`` and ``suffice team``: the people of the clinic, from a shell on its computer.

Whoever may run it has the record in hand, and so may do all of it; nobody's role is asked.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated
from uuid import UUID, uuid4

import typer
from rich.table import Table

from suffice.cli.console import in_words, out, print_words, speaking
from suffice.cli.moment import now_utc
from suffice.cli.store import open_record
from suffice.errors import InputError, Problem
from suffice.message import Message, message

if TYPE_CHECKING:
    from suffice.care.clinic.roles import Duty, Role

Name = Annotated[str, typer.Argument(help="The name that the person signs in with.")]
Team = Annotated[
    str | None, typer.Option("--team", help="The team, by its name; the first if left out.")
]
NONE = "none"


def list_users() -> None:
    """List who may sign in, and what each may do."""
    open_record()
    from suffice.care.clinic.accounts import people  # noqa: PLC0415
    from suffice.record.teams import team_names  # noqa: PLC0415

    names = team_names()
    table = Table(box=None, pad_edge=False)
    headings = (message("name"), message("called"), message("may"), message("state"))
    for heading in headings:
        table.add_column(in_words(heading))
    for one in people():
        roles = [f"{role} ({names[team]})" for team, role in one.roles.items()]
        table.add_row(
            one.account.name,
            ", ".join(filter(None, (one.account.called, one.account.profession))),
            ", ".join([*roles, *sorted(one.duties)]),
            in_words(_state(is_active=one.account.is_active, waits=not one.account.has_passphrase)),
        )
    out.print(table)


def _state(*, is_active: bool, waits: bool) -> Message:
    if not is_active:
        return message("deactivated")
    return message("has a one-time link") if waits else message("can sign in")


def add_user(
    name: Annotated[str, typer.Argument(help="Small letters, digits, dots, hyphens.")],
    full_name: Annotated[
        str, typer.Option("--full-name", help="The person's own name, as pages show it.")
    ] = "",
    profession: Annotated[str, typer.Option(help="For example midwife.")] = "",
    admin: Annotated[
        bool, typer.Option("--admin", help="A lead who looks after the accounts too.")
    ] = False,
    invite: Annotated[
        bool, typer.Option("--invite", help="Print a one-time link; ask for no passphrase.")
    ] = False,
    role: Annotated[
        str, typer.Option(help="reader, consultant or lead; with --invite only.")
    ] = "consultant",
    team: Team = None,
) -> None:
    """Let a person sign in; asks for a passphrase, or reads it from standard input."""
    open_record()
    from django.utils import translation  # noqa: PLC0415

    from suffice.care.clinic import accounts, people  # noqa: PLC0415
    from suffice.care.clinic.noted import of_shell  # noqa: PLC0415
    from suffice.care.clinic.roles import Duty, Role  # noqa: PLC0415

    if invite:
        asked = accounts.Invitation(
            name=name,
            full_name=full_name,
            profession=profession,
            team_id=team_called(team),
            role=Role.LEAD if admin else _role(role),
            duties=frozenset({Duty.ADMINISTRATOR}) if admin else frozenset(),
        )
        _say_link(accounts.invite(None, asked, now=now_utc()), accounts.INVITED_FOR.days)
        return
    if sys.stdin.isatty():
        passphrase = typer.prompt(
            in_words(message("Passphrase")), hide_input=True, confirmation_prompt=True
        )
    else:
        passphrase = sys.stdin.readline().rstrip("\n")
    # What is wrong with a passphrase is said by Django, in the language that it is given.
    with translation.override(speaking().language):
        people.add_user(
            name, passphrase, now=now_utc(), full_name=full_name, is_admin=admin, by=of_shell()
        )
    if profession:
        accounts.change_person(None, name, full_name=full_name, profession=profession)
    print_words(message("{name} can sign in now.", name=name))


def deactivate(name: Name) -> None:
    """Stop a person from signing in; every session ends, and what was entered stays."""
    open_record()
    from suffice.care.clinic import accounts  # noqa: PLC0415

    accounts.set_active(None, name, is_active=False)
    print_words(message("{name} cannot sign in any more; every session has ended.", name=name))


def activate(name: Name) -> None:
    """Let a person sign in again."""
    open_record()
    from suffice.care.clinic import accounts  # noqa: PLC0415

    accounts.set_active(None, name, is_active=True)
    print_words(message("{name} can sign in again.", name=name))


def reset(
    name: Name,
    codes: Annotated[
        bool, typer.Option("--codes", help="Take the one-time codes away too.")
    ] = False,
) -> None:
    """End the passphrase and every session of a person; print a link to choose a new one."""
    open_record()
    from suffice.care.clinic import accounts  # noqa: PLC0415

    if codes:
        accounts.remove_factor(None, name)
    _say_link(accounts.reset(None, name, now=now_utc()), accounts.RESET_FOR.days)


def role(
    name: Name,
    role: Annotated[str, typer.Argument(help="reader, consultant, lead, or none.")],
    team: Team = None,
) -> None:
    """Change the role of a person in a team."""
    open_record()
    from suffice.care.clinic import accounts  # noqa: PLC0415

    accounts.set_role(None, name, team_called(team), None if role == NONE else _role(role))
    print_words(message("{name}: {role}.", name=name, role=role))


def duty(
    name: Name,
    duty: Annotated[str, typer.Argument(help="administrator or auditor.")],
    take_away: Annotated[
        bool, typer.Option("--take-away", help="The person has it no more.")
    ] = False,
) -> None:
    """Let a person look after accounts, or read who did what; neither opens a family."""
    open_record()
    from suffice.care.clinic import accounts  # noqa: PLC0415

    accounts.set_duty(None, name, _duty(duty), has_it=not take_away)
    print_words(message("Saved; it counts from the next page."))


def end_sessions(name: Name) -> None:
    """Sign a person out everywhere."""
    open_record()
    from suffice.care.clinic import accounts  # noqa: PLC0415

    count = accounts.end_sessions(None, name)
    ended = message("{count} session ended.", plural="{count} sessions ended.", count=count)
    print_words(ended)


def list_teams() -> None:
    """List the teams."""
    open_record()
    from suffice.record.teams import first_team, team_names  # noqa: PLC0415

    first_team(now=now_utc())
    for name in team_names().values():
        out.print(name, markup=False)


def add_team(name: Annotated[str, typer.Argument(help="What the team is called.")]) -> None:
    """Make a team."""
    open_record()
    from suffice.care.clinic import teams  # noqa: PLC0415

    teams.add_team(None, uuid4(), name, now=now_utc())
    print_words(message("Saved."))


def rename_team(
    name: Annotated[str, typer.Argument(help="The team, by its name.")],
    new_name: Annotated[str, typer.Argument(help="What it is called from now on.")],
) -> None:
    """Give a team another name."""
    open_record()
    from suffice.care.clinic import teams  # noqa: PLC0415

    teams.rename_team(None, team_called(name), new_name)
    print_words(message("Saved."))


def team_called(name: str | None) -> UUID:
    """The team of a name, the first for None.

    Raises:
        InputError: CLI-018, when there is no team of that name.
    """
    from suffice.record.teams import first_team, team_names  # noqa: PLC0415

    first = first_team(now=now_utc())
    if name is None:
        return first
    found = {called: team for team, called in team_names().items()}
    if name not in found:
        raise InputError(_not_one_of(name, found, "--team"))
    return found[name]


def _role(text: str) -> Role:
    from suffice.care.clinic.roles import Role  # noqa: PLC0415

    if text not in set(Role):
        raise InputError(_not_one_of(text, [*Role, NONE], "role"))
    return Role(text)


def _duty(text: str) -> Duty:
    from suffice.care.clinic.roles import Duty  # noqa: PLC0415

    if text not in set(Duty):
        raise InputError(_not_one_of(text, [*Duty], "duty"))
    return Duty(text)


def _not_one_of(text: str, known: object, where: str) -> Problem:
    return Problem(
        code="CLI-018",
        what=message("'{text}'", text=text),
        why=message("is not one that there is."),
        fix=message("Use one of {known}.", known=", ".join(map(str, known))),  # type: ignore[call-overload]
        where=where,
    )


def _say_link(token: str, days: int) -> None:
    from django.conf import settings  # noqa: PLC0415
    from django.urls import reverse  # noqa: PLC0415

    path = reverse("choose-passphrase", args=[token])
    host, *others = settings.ALLOWED_HOSTS or ("",)
    # With a star or a point in front it names many.
    if settings.SESSION_COOKIE_SECURE and not others and host[:1].isalnum():
        # A link that is folded at the edge of a terminal leads nowhere.
        out.print(f"https://{host}{path}", markup=False)
        print_words(
            message(
                "Hand this link to the person alone. It is shown only now and can be used once, within"
                " {count} day.",
                plural="Hand this link to the person alone. It is shown only now and can be used once,"
                " within {count} days.",
                count=days,
            )
        )
        return
    out.print(path, markup=False)
    print_words(
        message(
            "Append this to the address of the pages and hand it to the person alone. It is shown"
            " only now and can be used once, within {count} day.",
            plural="Append this to the address of the pages and hand it to the person alone. It is"
            " shown only now and can be used once, within {count} days.",
            count=days,
        )
    )


def user_called(name: str) -> int:
    """The number of a user; 0 where nobody is called so."""
    from suffice.care.clinic.accounts import people  # noqa: PLC0415

    return next((one.account.id for one in people() if one.account.name == name), 0)
