"""How a family sees by tomorrow that its plan works: diapers of the age, swallows, and later what no leaflet counts.

Leaflets count diapers to the end of the fourth week. From then on the page goes by this baby's own days, by the
fewest wets below which a physician looks, and by the scale.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from suffice.assess.results import InfantAssessment
from suffice.clinical.entry import Plan
from suffice.clinical.units import HOURS_PER_DAY
from suffice.documents.day_sheet import Expected, colours_words, expected_of
from suffice.documents.frame import Source
from suffice.documents.page import Block, Heading, Items, Paragraph
from suffice.message import Instant, Message, Number, Words, message

OLDER_FROM: Final = "output.norm_until_d"
OLDER_UNTIL: Final = "output.infancy_until_d"
OLDER_WETS: Final = "output.older_wets_count_per_day"
"""Fewer in 24 h than so many is significant at these ages: published, as the content says."""
AS_NOW: Final = message(
    "About as many wet diapers as this week, never fewer than *{least}* in 24 hours."
)
"""That its own days are the measure is common practice, no source."""
MORE_THAN_NOW: Final = message("*More wet* diapers than now, at least *{least}* in 24 hours.")
"""Where too few are flagged its own days are no measure."""
FEWER: Final = message("Fewer can mean too little milk: call us today.")
"""Judgement, ours; the sheet on what is enough says the same."""
AWAKE: Final = message("Your baby is wide awake for a while, and content after some feeds.")
"""Published: an infant that is alert (Kent 2021) and content after feeds (a leaflet); abstract and excerpt read."""
SWALLOWS: Final = message("You hear your baby swallow.")


def tomorrow_of(source: Source, infant: InfantAssessment) -> Expected | None:
    """What the day of life asks for that is there tomorrow at this time."""
    day = None if infant.age_days is None else infant.age_days + 2
    return expected_of(source, infant, day) if day is not None else None


def it_works(
    source: Source, plan: Plan, infant: InfantAssessment, found: Expected | None
) -> Iterator[Block]:
    """What to see by tomorrow at this time.

    Args:
        source: What the page is made from.
        plan: The plan.
        infant: Whose it is.
        found: What :func:`tomorrow_of` says.
    """
    speaker = source.speaker
    tomorrow = source.as_of + timedelta(hours=HOURS_PER_DAY)
    lines: list[tuple[Message, ...]] = []
    if found is not None and found.wets is not None:
        lines.append((_wets(found.wets),))
    elif _is_older(source, infant):
        lines.append(_own_wets(source, infant))
    if found is not None and found.stools is not None:
        lines.append((_stools(found.stools, colours_words(found.colours)),))
    if plan.at_breast != "not now":
        lines.append((SWALLOWS,))
    if _is_older(source, infant) and not _is_before_term(infant):
        lines.append((AWAKE,))
    if not lines:
        return
    yield Heading(
        speaker.say(message("It works if you see this by {when}", when=Instant(tomorrow)))
    )
    yield Items(tuple(speaker.emphasised(*one) for one in lines))


def weighing(source: Source, plan: Plan, infant: InfantAssessment) -> Iterator[Block]:
    """When the scale says it: often days after what the family is to see by tomorrow."""
    if plan.weigh_at is None or plan.weigh_at <= source.as_of:
        return
    sentences = [message("We weigh your baby on *{when}*.", when=Instant(plan.weigh_at))]
    if _is_older(source, infant):
        sentences.append(message("More weight then shows best that the plan works."))
    yield Paragraph(source.speaker.emphasised(*sentences))


def _is_older(source: Source, infant: InfantAssessment) -> bool:
    """Whether it is past the last day of the leaflets tomorrow, and at an age that the tool is asked about."""
    if infant.age_days is None:
        return False
    first, last = (source.content.constant(key).value for key in (OLDER_FROM, OLDER_UNTIL))
    return first <= infant.age_days + 1 < last


def _is_before_term(infant: InfantAssessment) -> bool:
    """Such an infant looks content and is hungry: nobody goes by that."""
    return infant.corrected_age_days is not None and infant.corrected_age_days < 0


def _own_wets(source: Source, infant: InfantAssessment) -> tuple[Message, ...]:
    least = Number(source.content.constant(OLDER_WETS).value, 0)
    is_flagged = any(one.topic == "output" and one.colour != "note" for one in infant.findings)
    return ((MORE_THAN_NOW if is_flagged else AS_NOW).with_params(least=least), FEWER)


def _wets(count: float) -> Message:
    if round(count) == 1:
        return message("At least *1 wet* diaper in 24 hours.")
    return message("At least *{count} wet* diapers in 24 hours.", count=Number(count, 0))


def _stools(count: float, colours: Words) -> Message:
    if round(count) == 1:
        return message("At least *1 dirty* diaper, {colours}.", colours=colours)
    return message(
        "At least *{count} dirty* diapers, {colours}.", count=Number(count, 0), colours=colours
    )
