"""``suffice caseload`` and ``suffice refresh``."""

from __future__ import annotations

import os
import time
from collections.abc import Collection
from typing import Annotated, Literal
from uuid import UUID

import typer

from suffice.cli.accounts import team_called, user_called
from suffice.cli.console import err, print_words
from suffice.cli.moment import now_utc
from suffice.cli.noted import note_command
from suffice.cli.store import join_record, open_record
from suffice.errors import InputError, Problem, SufficeError
from suffice.exchange.moment import read_instant
from suffice.knowledge.policy import Policy
from suffice.message import Message, message

ASSESSING = message("assessing families")

AGE_MOST_D = 36_525
"""A hundred years: no limit of care, only of what a date can hold."""

BACKGROUND_NICENESS = 10
BACKGROUND_DELAY_S = 3


def show(
    as_of: Annotated[
        str | None, typer.Option(help="As of this date and time; as last computed if left out.")
    ] = None,
    at_age_d: Annotated[
        float | None, typer.Option(help="Each family as of this age of its first-born, in days.")
    ] = None,
    due_today: Annotated[
        bool, typer.Option("--due-today", help="Only families whose next contact is due by today.")
    ] = False,
    user: Annotated[
        str | None,
        typer.Option("--of", help="Only families for which this user entered something."),
    ] = None,
    sort: Annotated[
        Literal["need", "due", "name", "age"], typer.Option(help="The order of the list.")
    ] = "need",
    team: Annotated[
        str | None, typer.Option(help="Only the families of this team, by its name.")
    ] = None,
    limit: Annotated[
        int | None, typer.Option(help="Only this many families, from the top.", min=1)
    ] = None,
    no_engine: Annotated[
        bool, typer.Option("--no-engine", help="Plain rules only (with --as-of or --at-age-d).")
    ] = False,
) -> None:
    """List the families in the order of need, each with its reason."""
    if at_age_d is not None and not 0 <= at_age_d <= AGE_MOST_D:
        raise InputError(
            Problem(
                code="CLI-013",
                what=message("{days} days", days=f"{at_age_d:g}"),
                why=message("is no age from 0 to {most} days.", most=AGE_MOST_D),
                fix=message("Give the age in days, for example 10."),
                where="--at-age-d",
            )
        )
    if (user or due_today or sort != "need") and (as_of or at_age_d is not None):
        raise InputError(_not_together())
    open_record()
    from suffice.care.caseload.ranked import ranked_as_of, ranked_at_age  # noqa: PLC0415
    from suffice.care.clinic.clinic import clinic  # noqa: PLC0415
    from suffice.care.trail import Act  # noqa: PLC0415
    from suffice.cli.listing import print_ranked  # noqa: PLC0415
    from suffice.cli.progress import progress  # noqa: PLC0415

    policy = clinic().policy
    team_ids = None if team is None else [team_called(team)]
    note_command(Act.LIST, "caseload")
    if at_age_d is None and as_of is None:
        _list(policy, due_today=due_today, user=user, sort=sort, limit=limit, team_ids=team_ids)
        return
    with progress(ASSESSING) as advance:
        if at_age_d is not None:
            rows = ranked_at_age(
                at_age_d, engine=not no_engine, progress=advance, team_ids=team_ids
            )
        else:
            instant = read_instant(as_of or "", policy.zone)
            rows = ranked_as_of(instant, engine=not no_engine, progress=advance, team_ids=team_ids)
    print_ranked(rows, policy, limit)


def _not_together() -> Problem:
    return Problem(
        code="CLI-014",
        what=message("--of, --due-today and --sort"),
        why=message("choose from the caseload as it is now, not from a ranking of another time."),
        fix=message("Leave out --as-of and --at-age-d, or leave these out."),
        where="--sort",
    )


def _list(
    policy: Policy,
    *,
    due_today: bool,
    user: str | None,
    sort: str,
    limit: int | None,
    team_ids: Collection[UUID] | None,
) -> None:
    """Print what was chosen of the caseload as last computed."""
    from suffice.care.caseload.choosing import (  # noqa: PLC0415
        Choice,
        Mine,
        Sort,
        Which,
        chosen,
        mine_of,
    )
    from suffice.care.caseload.listing import caseload  # noqa: PLC0415
    from suffice.cli.listing import print_caseload  # noqa: PLC0415

    now = now_utc()
    listed = caseload(now=now, team_ids=team_ids)
    mine = mine_of(user, user_id=user_called(user)) if user else Mine()
    rows = list(listed.rows)
    for which, is_asked in ((Which.MINE, user is not None), (Which.DUE, due_today)):
        if is_asked:
            rows = chosen(rows, Choice(which=which), policy, now, mine)
    rows = chosen(rows, Choice(sort=Sort(sort)), policy, now, mine)
    print_caseload(rows[:limit], listed.outdated_count, policy, now)


def refresh(
    every: Annotated[
        float | None,
        typer.Option(
            help="Keep running, and look again each time so many seconds have passed.", min=1
        ),
    ] = None,
    workers: Annotated[
        int | None, typer.Option(help="Processes; as many as cores if left out.", min=1)
    ] = None,
    while_parent_lives: Annotated[bool, typer.Option("--while-parent-lives", hidden=True)] = False,
) -> None:
    """Assess again every family whose rank is out of date."""
    parent = os.getppid()
    if while_parent_lives:
        # Those who wait for a page come first, above all while the server starts.
        os.nice(BACKGROUND_NICENESS)
        time.sleep(BACKGROUND_DELAY_S)
    # The one who started this in the background has brought the tables up to date.
    open_record(migrate=not while_parent_lives)
    if while_parent_lives:
        join_record()
    if every is None:
        print_words(_assessed(_refreshed(workers)))
        return
    from suffice.care import upkeep  # noqa: PLC0415

    while not while_parent_lives or os.getppid() == parent:
        upkeep.sweep()
        _refresh_and_go_on(workers)
        time.sleep(every)


def _assessed(count: int) -> Message:
    return message("{count} family assessed.", plural="{count} families assessed.", count=count)


def _refreshed(workers: int | None, *, waits: bool = True) -> int:
    """Assess what no longer holds, with a bar; how many families there were."""
    from suffice.care.caseload.refreshing import bring_up_to_date  # noqa: PLC0415
    from suffice.cli.progress import stages  # noqa: PLC0415

    with stages({"assessing": ASSESSING}) as watch:
        return bring_up_to_date(now_utc, by="suffice", workers=workers, watch=watch, waits=waits)


def _refresh_and_go_on(workers: int | None) -> None:
    """The same without end: a store that is out of reach for a while is tried again later."""
    from django.db import close_old_connections  # noqa: PLC0415

    close_old_connections()
    try:
        done = _refreshed(workers, waits=False)
    except SufficeError as error:
        # Its words may quote what is stored, and end in the journal of a server.
        codes = {problem.code for problem in error.problems}
        print_words(message("Not refreshed: {codes}", codes=", ".join(sorted(codes))), to=err)
    else:
        if done:
            print_words(_assessed(done), to=err)
