"""What follows from an entry at once: the change since the last, the counts, the milk of a feed.

It is said beside 'Saved', so that nobody has to look for it; the page of the family says the rest.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from suffice.assess.assessment import assess
from suffice.assess.counted import counted_now
from suffice.assess.one_feed import one_feed
from suffice.assess.parameters import parameters_of
from suffice.assess.results import InfantAssessment
from suffice.clinical.entry import (
    Birth,
    Entry,
    Record,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
    about,
)
from suffice.clinical.output_count import OutputKind
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant
from suffice.knowledge.policy import Clinic
from suffice.message import Amount, Chance, Instant, Number, Words, joined, message

KINDS: Final[tuple[OutputKind, ...]] = ("wet", "stool")


def what_follows(record: Record, entry: Entry, *, now: datetime, rules: Clinic) -> Words:
    """What an entry that is on the record changes, in a sentence; empty where nothing is said.

    Args:
        record: The whole record, the entry in it.
        entry: The entry.
        now: The instant of the question.
        rules: The clinic as it is set up.
    """
    is_count = isinstance(entry.fact, Wet | Stool)
    if isinstance(entry.fact, Temperature):
        return _temperature_before(record, entry)
    if not (is_count or isinstance(entry.fact, Weight | TestWeight)):
        return ""
    if is_count:
        return counts_now(record, entry.infant_id, now=now, rules=rules)
    found = assess(record, entry.true_at, rules.content, rules.policy, engine=False)
    infant = next((one for one in found.infants if one.infant_id == entry.infant_id), None)
    if infant is None:
        return ""
    if isinstance(entry.fact, Weight):
        gain = parameters_of(rules.content).gain_rules
        change = _change(infant, entry, gain.least_between_h)
        again = _weighed_again(record, entry, now=now, within=gain.one_weighing_h)
        return joined(change, again)
    return _of_feed(infant, rules.content.constant("feeding.feeds_count_per_day"))


def counts_now(record: Record, infant_id: UUID | None, *, now: datetime, rules: Clinic) -> Words:
    """The diapers of one infant in the 24 hours that end now, as far as they are written down.

    Where the last whole count ended earlier, that one and what came since.
    """
    entries = about(record.entries_at(now), infant_id)
    births = [one.true_at for one in entries if isinstance(one.fact, Birth)]
    if infant_id is None or not births:
        return ""
    limits = parameters_of(rules.content).output
    wets, stools = (
        counted_now(entries, infant_id, kind, born_at=births[-1], as_of=now, limits=limits)
        for kind in KINDS
    )
    count = message("Written down for the last 24 h: {wets}; {stools}.")
    if wets.seen.is_known and stools.seen.is_known:
        count = message("In 24 h: {wets}; {stools}.")
    return count.with_params(wets=wets.says, stools=stools.says)


def _change(infant: InfantAssessment, entry: Entry, least_between: Constant) -> Words:
    """The change since the weight before: a rate where the two lie far enough apart for one."""
    rows = infant.usable_weights
    place = next((n for n, row in enumerate(rows) if row.entry_id == entry.id), 0)
    if place == 0:
        return ""
    row, before = rows[place], rows[place - 1]
    since = Instant(before.at)
    apart_h = (row.at - before.at) / timedelta(hours=1)
    change_g = row.weight_g - before.weight_g
    if apart_h < least_between.value:
        change = message(
            "{change} since {when}", change=Amount(change_g, "g", signed=True), when=since
        )
    else:
        rate = Amount(change_g / apart_h * HOURS_PER_DAY, "g/d", signed=True)
        change = message("{change} since {when}", change=rate, when=since)
    if row.change_percent is not None and row.change_percent < 0:
        below = Amount(-row.change_percent, "%", 1)
        return message("{change}; {below} below birth weight.", change=change, below=below)
    return message("{change}.", change=change)


def _weighed_again(record: Record, entry: Entry, *, now: datetime, within: Constant) -> Words:
    """Another weight of the same infant, as late or later and hours apart at most: a colleague's, maybe.

    One that is earlier is the weight before, and its change is said.
    """
    others = [
        (one.true_at, one.fact.weight_g)
        for one in about(record.entries_at(now), entry.infant_id)
        if isinstance(one.fact, Weight)
        and one.id != entry.id
        and timedelta() <= one.true_at - entry.true_at < timedelta(hours=within.value)
    ]
    if not others:
        return ""
    at, weight_g = others[-1]
    return message(
        "Another weight is on the record: {weight}, {when}. If it was one weighing, withdraw one.",
        weight=Amount(weight_g, "g"),
        when=Instant(at),
    )


def _temperature_before(record: Record, entry: Entry) -> Words:
    earlier = [
        (one.true_at, one.fact.temperature_c)
        for one in about(record.entries_at(entry.true_at), entry.infant_id)
        if isinstance(one.fact, Temperature) and one.id != entry.id
    ]
    if not earlier:
        return ""
    at, temperature_c = earlier[-1]
    before = Amount(temperature_c, "Cel")
    return message("Before: {before}, {when}.", before=before, when=Instant(at))


def _of_feed(infant: InfantAssessment, feeds_per_day: Constant) -> Words:
    feed = one_feed(infant, feeds_per_day)
    if feed is None:
        return infant.not_computed.get("transfer_ml", "")
    taken = message(
        "Taken at this feed: {taken} ({level} interval {low} to {high})",
        taken=Amount(feed.transfer_ml.value, "mL", 0),
        level=Chance(feed.transfer_ml.level or 0.0),
        low=Amount(feed.transfer_ml.low or 0.0, "mL", 0),
        high=Amount(feed.transfer_ml.high or 0.0, "mL", 0),
    )
    if feed.share_percent is None:
        return message("{taken}.", taken=taken)
    share = Number(feed.share_percent, 0)
    if feed.feeds_count is None:
        return message(
            "{taken}, {share} % of a feed that is usual at this age.", taken=taken, share=share
        )
    return message(
        "{taken}, {share} % of a feed when the milk of a usual day is shared over {feeds} feeds.",
        taken=taken,
        share=share,
        feeds=feed.feeds_count,
    )
