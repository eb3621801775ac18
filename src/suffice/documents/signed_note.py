"""A note that was signed: what stands where it is signed, and what was added to it afterwards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from uuid import UUID

import msgspec

from suffice.clinical.entry import Amendment, Entry, Withdrawal, kind_of
from suffice.documents.frame import Source
from suffice.documents.page import Blank, Block, Box, Heading, Items, Paper, Paragraph, Run, Runs
from suffice.language.facts import parts_of
from suffice.language.kinds import KINDS
from suffice.message import Instant, Listed, Message, Number, message


class Signature(msgspec.Struct, frozen=True, kw_only=True):
    """Who signed, as people call them, and when."""

    by: str
    at: datetime


class Changed(msgspec.Struct, frozen=True, kw_only=True):
    """An entry that a signed note quotes and that was corrected or withdrawn since.

    Attributes:
        number: Its number in the note.
        was: The entry as the note quotes it.
        now: What replaces it: its correction, or a withdrawal.
    """

    number: int
    was: Entry
    now: Entry


class Later(msgspec.Struct, frozen=True, kw_only=True):
    """What came after a note was signed, the earliest first.

    Attributes:
        amendments: What was added to it.
        changed: What of that which it quotes was corrected or withdrawn.
    """

    amendments: tuple[Entry, ...] = ()
    changed: tuple[Changed, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.amendments or self.changed)


def signature_box(source: Source, signature: Signature | None) -> Box:
    """Who signed and when; lines to sign by hand where nobody has."""
    speaker = source.speaker
    if signature is not None:
        signed = message(
            "Signed by {who}, {at}.", who=signature.by, at=Instant(signature.at, year=True)
        )
        stays = message("This note does not change any more; amendments are added to it.")
        return Box((Paragraph(speaker.sentences([signed, stays])),), heavy=True)
    unsigned = message("Not signed: what is printed here can still change with the record.")
    labels = (message("Signed by"), message("Date and time"))
    return Box(
        (
            Paragraph(speaker.say(unsigned)),
            Blank(tuple(speaker.say(one) for one in labels)),
        )
    )


def amended(source: Source, kept: Paper, later: Later) -> Paper:
    """The note as it was signed, and after it what was added since.

    Args:
        source: What is known now, in the language of the note.
        kept: The note as it was signed.
        later: What came after it.
    """
    blocks = (*kept.blocks, *_amendments(source, later), *_changes(source, later))
    speaker = source.speaker
    until = message(
        "As signed, with what was added until {at}.", at=Instant(source.as_of, year=True)
    )
    foot = (*kept.foot, Run(" "), *speaker.say(until))
    return msgspec.structs.replace(kept, blocks=blocks, as_of=source.as_of, foot=foot)


def _amendments(source: Source, later: Later) -> Iterator[Block]:
    if not later.amendments:
        return
    speaker = source.speaker
    yield Heading(speaker.say(message("Amendments")))
    yield Items(
        tuple(_amendment(source, one) for one in later.amendments),
        numbered=True,
    )


def _amendment(source: Source, entry: Entry) -> Runs:
    text = entry.fact.text if isinstance(entry.fact, Amendment) else ""
    sentence = message(
        "*{who}, {at}:* {text}",
        who=source.people.get(entry.entered_by, entry.entered_by),
        at=Instant(entry.entered_at, year=True),
        text=text,
    )
    return source.speaker.emphasised(sentence)


def _changes(source: Source, later: Later) -> Iterator[Block]:
    if not later.changed:
        return
    speaker = source.speaker
    yield Heading(speaker.say(message("Entries changed since the note was signed")))
    says = message("The note above quotes them as they were.")
    yield Paragraph(speaker.say(says))
    yield Items(tuple(speaker.say(change_words(one, source.people)) for one in later.changed))


def change_words(changed: Changed, people: Mapping[str, str]) -> Message:
    """A changed entry in a sentence.

    Args:
        changed: What was changed.
        people: What people are called, by the names that they sign in with.
    """
    was, now = changed.was, changed.now
    if isinstance(now.fact, Withdrawal):
        sentence = message(
            "Number {number}, {kind}: {was}. Withdrawn by {who}, {at}: {why}", why=now.fact.reason
        )
    else:
        sentence = message(
            "Number {number}, {kind}: {was}. Now {now}, corrected by {who}, {at}.",
            now=message("{parts}", parts=Listed(parts_of(now.fact))),
        )
    return sentence.with_params(
        number=Number(changed.number, 0),
        kind=KINDS[kind_of(was.fact)],
        was=message("{parts}", parts=Listed(parts_of(was.fact))),
        who=people.get(now.entered_by, now.entered_by),
        at=Instant(now.entered_at, year=True),
    )


def changed_of(rests_on: tuple[UUID, ...], entries: tuple[Entry, ...]) -> tuple[Changed, ...]:
    """What of that which a note quotes was corrected or withdrawn, whatever the note's age.

    Args:
        rests_on: The entries that it quotes, in the order of their numbers.
        entries: Every entry of the family, superseded ones included.
    """
    by_id = {one.id: one for one in entries}
    replaced = {one.replaces: one for one in entries if one.replaces is not None}
    found = []
    for number, key in enumerate(rests_on, start=1):
        now = replaced.get(key)
        if now is None or key not in by_id:
            continue
        while now.id in replaced:
            now = replaced[now.id]
        found.append(Changed(number=number, was=by_id[key], now=now))
    return tuple(found)
