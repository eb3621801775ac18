"""One family that has one of everything an address can name: a watched feed, a photograph, a contact."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from typing import Final

from PIL import Image

from feeds import events
from latches import SIZE
from suffice.care.contact.photograph import keep_photograph
from suffice.care.family.asking import record_of
from suffice.care.family.recording import open_family, record_entries
from suffice.clinical import entry as domain
from web.story import FAMILY, an_id, entry, twins

FEED: Final = an_id("a watched feed")
PHOTOGRAPH: Final = an_id("a photograph")


def put_everything_on_the_record() -> None:
    """The twins, with a contact in progress, a watched feed and a photograph that they agreed to."""
    now = datetime.now(UTC)
    open_family(twins(now), now=now, actor="consultant", confirmed=True)
    infant, at = an_id("infant 1"), now - timedelta(minutes=30)
    watched = domain.WatchedFeed(events=events("0 left", "2 swallow", "4 swallow", "9 off"))
    facts: list[tuple[str, domain.AnyFact, object]] = [
        ("agreed", domain.Consent(to="photograph", given=True), None),
        ("start", domain.ContactStart(place="home"), None),
        ("a watched feed", watched, infant),
        ("milk", domain.MilkStored(milk="expressed", volume_ml=40, place="fridge"), infant),
    ]
    made = [entry(name, fact, at, whose) for name, fact, whose in facts]  # type: ignore[arg-type]
    record_entries(FAMILY, made, now=now, confirmed=True)
    out = io.BytesIO()
    Image.new("RGB", SIZE, (90, 90, 90)).save(out, "JPEG")
    keep_photograph(
        record_of(FAMILY),
        out.getvalue(),
        domain.LatchPhotograph(side="left", view="side"),
        key=PHOTOGRAPH,
        infant_id=infant,
        now=now,
        actor="consultant",
    )
