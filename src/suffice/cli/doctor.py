"""``suffice doctor``: the state of a record in plain words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from suffice.cli.console import Exit, print_words
from suffice.cli.moment import now_utc
from suffice.cli.serving import served_at
from suffice.cli.store import open_record
from suffice.message import Message, message

if TYPE_CHECKING:
    from suffice.care.doctor import Health, Sign

WELL = message("{count} thing is in order.", plural="{count} things are in order.")
NOT_WELL = message("{count} thing is not in order.", plural="{count} things are not in order.")


def doctor() -> None:
    """Check the record and what is around it, one line for each thing; changes nothing, names no family."""
    open_record(migrate=False)
    from django.db import DatabaseError  # noqa: PLC0415

    from suffice.care.doctor import Health, signs  # noqa: PLC0415
    from suffice.record.repository import unavailable  # noqa: PLC0415

    found: list[Health] = []
    try:
        for sign in (*signs(now_utc()), _served()):
            _say(sign)
            found.append(sign.health)
    except DatabaseError as error:
        raise unavailable(error) from error
    not_well = sum(health is not Health.WELL for health in found)
    print_words(
        NOT_WELL.with_params(count=not_well) if not_well else WELL.with_params(count=len(found))
    )
    worst = max(found)
    ends = {Health.LOOK: Exit.INPUT, Health.AWAY: Exit.STORAGE, Health.DAMAGED: Exit.DAMAGED}
    raise typer.Exit(ends.get(worst, Exit.OK))


def _served() -> Sign:
    from django.conf import settings  # noqa: PLC0415

    from suffice.care.doctor import Health, Sign  # noqa: PLC0415

    address = served_at(Path(settings.HOME))
    return Sign(
        health=Health.WELL,
        name=message("Pages"),
        state=message("Not served from this folder at present.")
        if address is None
        else message("Served at {address}.", address=address),
    )


def _say(sign: Sign) -> None:
    line: Message = message("[{mark}] {name}: {said}")
    print_words(line.with_params(mark=_marks()[sign.health], name=sign.name, said=sign.state))
    if sign.fix:
        print_words(sign.fix, indent=4)


def _marks() -> dict[Health, Message]:
    from suffice.care.doctor import Health  # noqa: PLC0415

    return {
        Health.WELL: message("in order"),
        Health.LOOK: message("to look at"),
        Health.AWAY: message("not usable"),
        Health.DAMAGED: message("damaged"),
    }
