"""A family on paper: what a colleague needs at shift change, on one page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Final

import msgspec
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from suffice.assess.private import open_entries, without_private
from suffice.assess.results import Finding, InfantAssessment
from suffice.care.family.asking import Answer
from suffice.clinical.entry import (
    Bilirubin,
    Birth,
    Entry,
    Fact,
    Feed,
    FeedCount,
    Temperature,
    TestWeight,
    about,
)
from suffice.knowledge.store import Content
from suffice.web.family.answer import ActShown, StripShown
from suffice.web.family.page import (
    FamilyShown,
    FindingShown,
    InfantShown,
    flags_shown,
    is_parent_first,
    most_urgent_first,
    parent_act_of,
    strip_of,
)
from suffice.web.shown.fact import describe, kind_word, value_word
from suffice.web.shown.wording import Wording, as_heading
from suffice.web.shown.working import amount_of

FED: Final = (Feed, FeedCount, TestWeight)
MILK: Final = "milk_given_24h_ml"


class PaperInfant(msgspec.Struct, frozen=True, kw_only=True):
    """What the paper says of one infant.

    Attributes:
        name: Its name.
        age: How old it is; empty where its birth is not known.
        strip: The answer, as at the head of the page.
        flags: Its open flags, the most urgent first; red and amber ones.
        facts: What was last seen, each under its name.
        chart: The weight chart, drawn small; None while no weight is known.
    """

    name: str
    age: str
    strip: StripShown | None
    flags: tuple[FindingShown, ...]
    facts: tuple[tuple[str, str], ...]
    chart: SafeString | None


class Paper(msgspec.Struct, frozen=True, kw_only=True):
    """What the paper says of a family beside its head: the infants, what is done about the parent, its flags."""

    infants: tuple[PaperInfant, ...]
    parent_act: ActShown | None
    parent_first: bool
    parent_flags: tuple[FindingShown, ...]


def paper_of(answer: Answer, family: FamilyShown, content: Content, wording: Wording) -> Paper:
    """A family on paper.

    Args:
        answer: The record and what was computed from it.
        family: The same family as its page shows it.
        content: The content in force.
        wording: How the clinic reads numbers and times; it is read later, so it says no 'today'.
    """
    assessed = without_private(answer.assessment, content)
    entries = open_entries(answer.record.entries_at(assessed.as_of), content)
    return Paper(
        infants=tuple(
            _infant(
                one,
                shown,
                strip_of(one, entries, content, wording, assessed.as_of),
                about(entries, one.infant_id),
                wording,
                assessed.as_of,
            )
            for one, shown in zip(most_urgent_first(assessed), family.infants, strict=True)
        ),
        parent_act=parent_act_of(assessed, wording),
        parent_first=is_parent_first(assessed),
        parent_flags=_open(assessed.findings, wording),
    )


def _infant(
    infant: InfantAssessment,
    shown: InfantShown,
    strip: StripShown | None,
    entries: tuple[Entry, ...],
    wording: Wording,
    as_of: datetime,
) -> PaperInfant:
    return PaperInfant(
        name=shown.name,
        age=shown.age,
        strip=strip,
        flags=_open(infant.findings, wording),
        facts=tuple(_facts(infant, strip, entries, wording, as_of)),
        chart=shown.chart.paper if shown.chart else None,
    )


def _open(findings: Iterable[Finding], wording: Wording) -> tuple[FindingShown, ...]:
    """Flags that somebody has to do something about; notes stay on the page."""
    return flags_shown((one for one in findings if one.colour != "note"), {}, wording)


def _facts(
    infant: InfantAssessment,
    strip: StripShown | None,
    entries: tuple[Entry, ...],
    wording: Wording,
    as_of: datetime,
) -> Iterator[tuple[str, str]]:
    """Birth, the last weight, output, feeds and milk; temperature and bilirubin where there is one."""
    yield _("Birth"), _birth(infant, entries, wording) or _("not known")
    if strip is not None:
        yield (
            _("Last weight"),
            _joined(strip.weight, strip.weighed_at, strip.change) or _("none yet"),
        )
        last = _("last %(when)s") % {"when": strip.counted_at} if strip.counted_at else ""
        yield _("Output"), _joined(strip.output, last)
    yield _("Feeds and milk"), _fed(infant, entries, wording, as_of) or _("none entered")
    for kind in (Temperature, Bilirubin):
        latest = _latest(entries, kind)
        if latest is not None:
            when = wording.near(latest.true_at, as_of, keeps=True)
            yield kind_word(latest.fact), _joined(describe(latest.fact, wording), when)


def _birth(infant: InfantAssessment, entries: tuple[Entry, ...], wording: Wording) -> str:
    birth = _latest(entries, Birth)
    mode = birth.fact.mode if birth is not None and isinstance(birth.fact, Birth) else None
    return _joined(
        "" if infant.born_at is None else wording.when(infant.born_at),
        "" if infant.birth_weight_g is None else str(wording.weight(infant.birth_weight_g)),
        "" if infant.gestation_days is None else wording.gestation(infant.gestation_days),
        value_word(mode),
    )


def _fed(
    infant: InfantAssessment, entries: tuple[Entry, ...], wording: Wording, as_of: datetime
) -> str:
    """The milk that was given in 24 hours, and the last feed with its time."""
    texts = []
    milk = infant.figures.get(MILK)
    if milk is not None:
        texts.append(_("%(amount)s given in 24 h") % {"amount": amount_of(MILK, milk, wording)})
    latest = _latest(entries, *FED)
    if latest is not None:
        fact = latest.fact
        what = describe(fact, wording)
        if not isinstance(fact, Feed):
            what = f"{kind_word(fact)}: {what}"
        texts.append(f"{as_heading(what)}, {wording.near(latest.true_at, as_of, keeps=True)}")
    return "; ".join(texts)


def _latest(entries: Iterable[Entry], *kinds: type[Fact]) -> Entry | None:
    found = [one for one in entries if isinstance(one.fact, kinds)]
    return max(found, key=lambda one: one.true_at, default=None)


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)
