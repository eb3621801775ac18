"""What all papers share: head and foot, whom a paper is about, and numbers that the clinic has to fill in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Final, Literal
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.died import living
from suffice.assess.results import FamilyAssessment, InfantAssessment
from suffice.clinical.entry import Contact, ContactStart, Entry, Plan, about
from suffice.documents.page import TEMPLATE_VERSION, Block, Paper, Run, Runs
from suffice.documents.speaker import Speaker, plain
from suffice.knowledge.policy import PaperSize, Policy
from suffice.knowledge.store import Content
from suffice.language.catalogue import unreviewed
from suffice.language.times import clock_text
from suffice.message import Amount, Day, Message, Number, Words, message

LETTERS: Final = "ABCDEFGH"
GAP: Final = "\N{REPLACEMENT CHARACTER}"
"""Stands where the paper has the number of its page."""
FILL_IN: Final = message("ask the clinic to fill in: ______")
Reader = Literal["clinician", "family"]
BODY_PTS: Final[dict[Reader, tuple[float, ...]]] = {
    "clinician": (10.5, 10.0),
    "family": (12.0, 11.0, 10.0),
}
"""Sizes of text in points that a reader is given, the wanted one first; none is ever smaller."""
TITLE_PT: Final[dict[Reader, float]] = {"clinician": 13.0, "family": 20.0}


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """All that a paper of a family is made from; the same source makes the same paper.

    Attributes:
        assessment: What was computed of the family, as of the instant of the paper.
        entries: The entries that count then.
        content: The content in force.
        policy: The clinic's policy, in the language of the paper.
        size: The sheet.
        author: Who hands the paper out, as people call them.
        people: What people are called, by the names that they sign in with.
        revision: How many entries the record had, so that a later state of it can be told apart.
        policy_version: Number of the clinic's policy.
    """

    assessment: FamilyAssessment
    entries: tuple[Entry, ...]
    content: Content
    policy: Policy
    size: PaperSize
    author: str
    revision: int
    people: Mapping[str, str] = {}
    policy_version: int = 0

    @property
    def as_of(self) -> datetime:
        """For when the paper says what it says."""
        return self.assessment.as_of

    @property
    def living(self) -> tuple[InfantAssessment, ...]:
        """The infants that live: a paper that has anybody fed or weighed speaks of these."""
        return living(self.assessment.infants)

    @property
    def speaker(self) -> Speaker:
        """How the paper speaks."""
        return Speaker(self.policy)

    def own(self, whose: UUID | None) -> tuple[Entry, ...]:
        """The entries about one infant, or about the parent: None."""
        return about(self.entries, whose)

    def infant(self, whose: UUID | None) -> InfantAssessment | None:
        """What was computed of one infant; None for the parent."""
        found = (one for one in self.assessment.infants if one.infant_id == whose)
        return next(found, None)

    def named(self, whose: UUID | None) -> Words:
        """What somebody is called; the parent's name is the family's."""
        infant = self.infant(whose)
        if infant is not None:
            return infant.name
        return self.assessment.name or message("the parent")


def phone(policy: Policy, which: str) -> Words:
    """A number of the clinic's policy; never one that nobody entered."""
    entered: str = getattr(policy, which)
    return entered or FILL_IN


def plan_entry_of(source: Source, whose: UUID | None) -> Entry | None:
    """The entry of the plan that holds for an infant: the last that was entered."""
    found = [one for one in source.own(whose) if isinstance(one.fact, Plan)]
    return found[-1] if found and whose is not None else None


def plan_of(source: Source, whose: UUID | None) -> Plan | None:
    """The plan that holds for an infant."""
    entry = plan_entry_of(source, whose)
    return entry.fact if entry is not None and isinstance(entry.fact, Plan) else None


def next_contact_at(source: Source) -> datetime | None:
    """When the family is seen next, the same on every paper; None where nothing is planned.

    What was put down last counts: the date of a contact, or that of a plan that is newer. Of the plans of
    several infants the earliest. A date of a plan on which the family was seen, or after which it was, is over.
    """
    if source.assessment.discharged:
        return None
    due = source.assessment.next_due_at
    said = [
        one.entered_at
        for one in source.entries
        if isinstance(one.fact, Contact) and one.fact.next_due_at == due
    ]
    dates: list[datetime] = []
    for infant in source.living:
        entry = plan_entry_of(source, infant.infant_id)
        plan = entry.fact if entry is not None else None
        if entry is None or not isinstance(plan, Plan) or plan.contact_at is None:
            continue
        # The contact in which a plan is made is not the next one.
        is_to_come = plan.contact_at > entry.true_at
        is_newer = due is None or (bool(said) and entry.entered_at > said[-1])
        if is_to_come and is_newer and not _was_seen(source, plan.contact_at, since=entry.true_at):
            dates.append(plan.contact_at)
    return min(dates, default=due)


def _was_seen(source: Source, due: datetime, *, since: datetime) -> bool:
    """Whether a contact after a plan was made took place on the day of its date, or later.

    Of a plan that is dated for the day on which it is made only one from that time on: the contact in which
    it is made ends on that day too.
    """
    zone = ZoneInfo(source.policy.zone)
    day = due.astimezone(zone).date()
    begins = due if since.astimezone(zone).date() == day else since
    return any(
        isinstance(one.fact, Contact | ContactStart)
        and one.true_at > since
        and one.true_at >= begins
        and one.true_at.astimezone(zone).date() >= day
        for one in source.entries
    )


def is_fed_at_home(plan: Plan) -> bool:
    """Whether a plan has the family feed: not where a unit does, and the plan is about expressing alone."""
    has_feeds = bool(plan.feeds_count or plan.supplement_ml)
    is_of_expressing = bool(plan.sessions_count) and plan.express_for in {"build", "keep"}
    return has_feeds or plan.at_breast not in {None, "not now"} or not is_of_expressing


def measured(policy: Policy, ml: float) -> Message:
    """An amount of milk as a family measures it: ounces have no fine marks, so they stand beside the millilitres.

    Args:
        policy: The clinic's.
        ml: The amount, mL.
    """
    amount = message("{amount}", amount=Amount(ml, "mL"))
    if policy.volume_unit == "mL":
        return amount
    return message("{ml} mL ({ounces})", ml=Number(ml, 0), ounces=amount)


def framed(
    source: Source,
    *,
    title: Words,
    whose: UUID | None,
    reader: Reader,
    blocks: tuple[Block, ...],
    most_pages: int | None = 1,
) -> Paper:
    """A paper with its head and foot.

    Args:
        source: What it is made from.
        title: What it is called.
        whose: Whom it is about: an infant, or the parent (None).
        reader: Who reads it; a family is given larger text.
        blocks: What it says.
        most_pages: How many pages it should have.
    """
    speaker, policy = source.speaker, source.policy
    return Paper(
        title=plain(speaker.text(title)),
        clinic=plain(speaker.text(policy.clinic_name)),
        language=policy.language,
        size=source.size,
        as_of=source.as_of,
        head_left=speaker.say(policy.clinic_name),
        head_right=_head(source, whose),
        foot=_foot(source),
        page_words=page_words_of(speaker),
        blocks=blocks,
        body_pts=BODY_PTS[reader],
        title_pt=TITLE_PT[reader],
        most_pages=most_pages,
    )


def page_words_of(speaker: Speaker) -> tuple[str, str, str]:
    """What stands before the number of a page, between it and their count, and after it."""
    numbered = message("Page {number} of {pages}", number=GAP, pages=GAP)
    before, between, after = plain(speaker.text(numbered)).split(GAP)
    return before, between, after


def _head(source: Source, whose: UUID | None) -> Runs:
    """Whom a paper is about, so that no page of it is filed under somebody else."""
    speaker, infant = source.speaker, source.infant(whose)
    name = Run(speaker.text(source.named(whose)), bold=True)
    more: list[Message] = []
    if infant is not None and infant.born_at is not None:
        born = infant.born_at.astimezone(ZoneInfo(infant.zone)).date()
        more.append(message("born {day}", day=Day(born, year=True)))
    if len(source.assessment.infants) > 1 and infant is not None:
        letter = LETTERS[(infant.position - 1) % len(LETTERS)]
        more.append(message("infant {letter}", letter=letter))
    written = source.as_of.astimezone(ZoneInfo(source.policy.zone))
    more.append(
        message(
            "written {day}, {time}",
            day=Day(written.date(), year=True),
            time=clock_text(source.as_of, ZoneInfo(source.policy.zone)),
        )
    )
    return (name, Run(", " + ", ".join(speaker.text(one) for one in more)))


def _foot(source: Source) -> Runs:
    """From what a paper was made, so that it can be made again."""
    assessed = source.assessment
    made = message(
        "Content {content}, engine {engine}, policy {policy}, template {template}, {entries} entries on the record.",
        content=assessed.content_version,
        engine=assessed.engine_version or message("not asked"),
        policy=source.policy_version,
        template=TEMPLATE_VERSION,
        entries=source.revision,
    )
    parts: list[Words] = [made]
    if unreviewed(source.policy.language) != "none":
        parts.append(message("Translation not reviewed by a qualified reader."))
    return source.speaker.sentences(parts)
