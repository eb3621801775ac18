"""What a contact still lacks before it ends, and when the next is likely to be due."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from typing import Final, NamedTuple
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from suffice.assess.died import living
from suffice.assess.results import FamilyAssessment
from suffice.care.clinic.people import full_names
from suffice.care.contact.visit import Question, Visit, asked_in, is_answered
from suffice.clinical.entry import (
    Contact,
    FeedCount,
    Observation,
    Plan,
    Record,
    Setting,
    Stool,
    TestWeight,
    Weight,
    Wet,
    standing,
)
from suffice.knowledge.store import Content
from suffice.message import Message
from suffice.web.contact.drawn import all_doubts
from suffice.web.contact.problems import MOOD
from suffice.web.contact.teaching import PART as TEACHING
from suffice.web.contact.teaching import teaching_of
from suffice.web.family.page import FindingShown
from suffice.web.shown.wording import Moment, Wording, as_heading

SETTING_AT: Final[Mapping[str, Setting]] = {
    "bedside": Setting.WARD,
    "neonatal unit": Setting.NEONATAL_UNIT,
    "clinic": Setting.CLINIC,
    "home": Setting.HOME,
    "phone": Setting.PHONE,
    "class": Setting.CLINIC,
}
"""Where the family is looked after, by where a contact takes place."""

TOTAL, SELF_HARM = "mood_total", "self_harm_item"
"""A total of the mood says nothing of self-harm: it is asked with its item, or the item is still open."""


class Lack(NamedTuple):
    """Something that is not known yet, and where it can be entered."""

    says: str
    link: str


def not_handed_over(reds: Iterable[FindingShown], family_id: UUID) -> list[Lack]:
    """The red flags that somebody else must know of and nobody was told of: no contact ends without them seen."""
    form = reverse("entry-new", args=[family_id, "handover"])
    found = []
    for one in reds:
        if one.hand_over and not one.taken:
            flag = f"{one.whose}: {one.sentence}" if one.whose else one.sentence
            said = _("Not handed over: %(flag)s") % {"flag": flag}
            found.append(Lack(said, f"{form}?{one.hand_over}&of=contact"))
    return found


def missing(
    visit: Visit, record: Record, content: Content, names: Mapping[UUID | None, str]
) -> list[Lack]:
    """What was not asked or looked at in this contact, what matters most first."""
    return [*_entries(visit, record, names), *_answers(visit, record, content)]


def _entries(visit: Visit, record: Record, names: Mapping[UUID | None, str]) -> Iterator[Lack]:
    family_id = record.family_id
    if visit.is_agreed is not True:
        yield Lack(
            _("Consent to assessing and care: not recorded")
            if visit.is_agreed is None
            else _("Consent to assessing and care: not given"),
            f"{reverse('entry-new', args=[family_id, 'consent'])}?to=assess&given=yes&of=contact",
        )
    for infant in sorted(record.infants, key=lambda one: one.position):
        own = [entry.fact for entry in visit.during if entry.infant_id == infant.id]
        name = {"name": names[infant.id]}
        if not any(isinstance(fact, Weight | TestWeight) for fact in own):
            yield Lack(
                _("%(name)s: not weighed") % name,
                f"{reverse('entry-new', args=[family_id, 'weight'])}?of=contact",
            )
        if not any(isinstance(fact, Wet | Stool) for fact in own):
            yield Lack(
                _("%(name)s: diapers not asked") % name,
                f"{reverse('entry-day', args=[family_id])}?infant={infant.id}&of=contact",
            )
        if not any(isinstance(fact, FeedCount) for fact in own):
            yield Lack(
                _("%(name)s: feeds of 24 hours not asked") % name,
                f"{reverse('entry-new', args=[family_id, 'feed-count'])}?of=contact",
            )


def _answers(visit: Visit, record: Record, content: Content) -> Iterator[Lack]:
    infants = [one.id for one in record.infants]
    for key, part in content.parts.items():
        asked = asked_in(content, key, infants)
        if not asked:
            continue
        link = reverse("contact-part", args=[record.family_id, key])
        title = {"part": as_heading(Message(part.title))}
        if not any(is_answered(visit.answers, question) for question in asked):
            yield Lack(_("%(part)s: not looked at") % title, link)
        elif any(
            len({one.fact.answer for one in found if isinstance(one.fact, Observation)}) > 1
            for question, found in visit.answers.items()
            if question in asked
        ):
            yield Lack(_("%(part)s: two answers differ") % title, link)
        if key == MOOD and _is_total_alone(visit):
            said = _("%(part)s: a total, and the self-harm item was not asked") % title
            yield Lack(said, f"{link}#{SELF_HARM}")
        if key == TEACHING:
            yield from (Lack(says, link) for says in teaching_of(visit).open)
        for doubt in all_doubts(visit, content, key):
            yield Lack(doubt.says, f"{link}#{doubt.what}")


def _is_total_alone(visit: Visit) -> bool:
    total, item = (Question(what, None, None) for what in (TOTAL, SELF_HARM))
    return is_answered(visit.answers, total) and not is_answered(visit.answers, item)


LATELY: Final = timedelta(hours=12)
"""How long a device may not have heard that a contact was ended: a shift, a convention."""


class Ended(NamedTuple):
    """The end of the last contact: who entered it, and when."""

    who: str
    at: Moment


def ended_lately(record: Record, wording: Wording, now: datetime) -> Ended | None:
    """The end of the last contact, where a device may still have a part of it open."""
    ends = [one for one in standing(record.entries) if isinstance(one.fact, Contact)]
    last = max(ends, key=lambda one: one.entered_at, default=None)
    if last is None or now - last.entered_at > LATELY:
        return None
    who = full_names().get(last.entered_by, last.entered_by)
    return Ended(who, wording.past_moment(last.entered_at, now))


def next_due(assessment: FamilyAssessment, record: Record, local: datetime) -> dict[str, str]:
    """When the next contact is likely to be, for the form of the end.

    The date of the plans that were agreed on, the earliest of the infants; where no plan has one the day on
    which an infant is to be weighed again, at this time of day.

    Args:
        assessment: Of the family, as of now.
        record: The same family's entries; those of infants that live count.
        local: Now on the clinic's clock.
    """
    alive = {one.infant_id for one in living(assessment.infants)}
    plans = {
        one.infant_id: one.fact.contact_at
        for one in standing(record.entries)
        if isinstance(one.fact, Plan) and one.infant_id in alive
    }
    planned = min((one for one in plans.values() if one is not None and one > local), default=None)
    if planned is not None:
        return {"next_due_at": f"{planned.astimezone(local.tzinfo):%Y-%m-%dT%H:%M}"}
    days = [one.weigh_again.on for one in assessment.infants if one.weigh_again is not None]
    first = min((day for day in days if day is not None and day > local.date()), default=None)
    return {} if first is None else {"next_due_at": f"{first.isoformat()}T{local:%H:%M}"}
