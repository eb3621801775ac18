"""The answer at the head of the Family page: one strip for each infant, and one line for the parent."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _

from suffice.assess.counted import counted_now
from suffice.assess.engine.ask import speaks_of_intake
from suffice.assess.parameters import parameters_of
from suffice.assess.results import Act, InfantAssessment, Tier, Verdict
from suffice.assess.weigh_again import ACT
from suffice.clinical.entry import Entry, Stool, Wet, about
from suffice.clinical.output_count import OutputKind
from suffice.knowledge.store import Content
from suffice.language.times import between_h
from suffice.web.shown.fact import value_word
from suffice.web.shown.mark import Mark, tier_mark
from suffice.web.shown.wording import Wording, in_sentences

KINDS_AGAINST = frozenset({"not enough", "probably not enough"})


class ActShown(msgspec.Struct, frozen=True, kw_only=True):
    """The next thing to do, with the mark of its urgency."""

    mark: Mark
    says: str
    then: str = ""


class StripShown(msgspec.Struct, frozen=True, kw_only=True):
    """The answer about one infant.

    Attributes:
        headline: The judgement.
        edge: The shape that gives the strip its edge; that of 'settled' only where all is well.
        act: What is done next, and when it is weighed.
        joins: How what contradicts the judgement goes together with it.
        weight: The last weight; empty where there is none.
        change: Its change since the one before and from birth.
        weighed_at: When it was taken.
        output: The wets and stools of the last 24 hours, or that they are not known.
        counted_at: When the last diaper or count was entered for; empty where `output` says it.
        acts_first: That nobody waits for the next weight; empty where somebody may.
        shows_gauge: Whether the small gauge stands here: not where a flag speaks against it.
    """

    headline: str
    edge: str
    act: ActShown
    joins: str
    weight: str
    change: str
    weighed_at: str
    output: str
    counted_at: str
    acts_first: str = ""
    shows_gauge: bool = False


COUNTED: Final[tuple[tuple[str, OutputKind], ...]] = (("wets_24h", "wet"), ("stools_24h", "stool"))
"""Key of a count of 24 hours to what is counted."""


def act_shown(act: Act, then: str, as_of: datetime, *, keeps: bool = False) -> ActShown:
    """An act with the mark of the group that it leads to."""
    text = in_sentences([act.says], as_of, keeps=keeps)
    stop = "" if text.endswith((".", "?", "!")) else "."
    return ActShown(mark=tier_mark(act.tier), says=f"{text}{stop}", then=then)


def strip_shown(
    infant: InfantAssessment,
    verdict: Verdict,
    entries: Iterable[Entry],
    content: Content,
    wording: Wording,
    as_of: datetime,
) -> StripShown:
    """The answer about one infant.

    Args:
        infant: What was computed of it.
        verdict: The judgement.
        entries: The current entries of the family.
        content: The content in force, for the age from which the engine speaks of intake.
        wording: How the clinic reads numbers and times, and whether it is read now.
        as_of: The instant of the question, by which days are named.
    """
    keeps = wording.now is None
    entries = tuple(entries)
    last_at = _counted_at(infant.infant_id, entries)
    counted_at = "" if last_at is None else wording.near(last_at, as_of, keeps=keeps)
    output, is_counted = _output(infant, entries, content, as_of, counted_at, keeps=keeps)
    last = infant.weights[-1] if infant.weights else None
    then = in_sentences([verdict.then], as_of, keeps=keeps)
    act = act_shown(verdict.act, then, as_of, keeps=keeps)
    if verdict.act.tier is Tier.SETTLED and not verdict.reassures:
        # A tick beside what cannot be told would calm for nothing.
        act = msgspec.structs.replace(act, mark=Mark("note", _("Next")))
    return StripShown(
        headline=in_sentences([verdict.headline], as_of, keeps=keeps),
        edge=act.mark.shape,
        act=act,
        joins=in_sentences(verdict.joins, as_of, keeps=keeps),
        weight="" if last is None else str(wording.weight(last.weight_g)),
        change="" if last is None else _change(infant, content, wording),
        weighed_at="" if last is None else wording.near(last.at, as_of, keeps=keeps),
        output=output,
        counted_at=counted_at if is_counted else "",
        acts_first=in_sentences([ACT]) if verdict.is_acted_on_first else "",
        shows_gauge=_shows_gauge(infant, verdict, content),
    )


def _change(infant: InfantAssessment, content: Content, wording: Wording) -> str:
    """The change since the weight before, in how long, and how far it is from birth weight.

    Of a weight in clothes only that it is one: it shows no change. What was weighed within a few
    hours of it, maybe by a colleague, is one weighing with it: it is named, and is no weight before.
    """
    last, parts = infant.weights[-1], []
    if last.clothing == "clothed":
        return value_word(last.clothing)
    hours = content.constant("gain.one_weighing_h").value
    earlier, again = list(infant.usable_weights[:-1]), []
    while earlier and earlier[-1].age_h > 0 and last.age_h - earlier[-1].age_h < hours:
        again.append(earlier.pop())
    if earlier:
        before = earlier[-1]
        change = wording.weight(last.weight_g - before.weight_g)
        parts.append(
            _("%(change)s in %(time)s")
            % {
                "change": f"{'+' if last.weight_g > before.weight_g else ''}{change}",
                "time": wording.age(between_h(last.age_h - before.age_h)),
            }
        )
    if last.change_percent is not None and last.age_h > 0:
        percent = f"{wording.change(last.change_percent)}\u00a0%"
        parts.append(_("%(percent)s from birth") % {"percent": percent})
    if again:
        parts.append(
            _("also %(weight)s within %(time)s")
            % {"weight": wording.weight(again[0].weight_g), "time": wording.age(hours)}
        )
    return ", ".join(parts)


def _output(
    infant: InfantAssessment,
    entries: Iterable[Entry],
    content: Content,
    as_of: datetime,
    counted_at: str,
    *,
    keeps: bool,
) -> tuple[str, bool]:
    """The diapers of the last 24 hours, and whether any are known; what came since a count is said beside it."""
    counts = []
    limits, own = parameters_of(content).output, about(tuple(entries), infant.infant_id)
    for key, kind in COUNTED:
        figure = infant.figures.get(key)
        if figure is None or infant.born_at is None:
            continue
        found = counted_now(
            own, infant.infant_id, kind, born_at=infant.born_at, as_of=as_of, limits=limits
        )
        text = in_sentences([found.says], as_of, keeps=keeps)
        counts.append(_("at least %(low)s") % {"low": text} if figure.high is None else text)
    if not counts and counted_at:
        return _("not counted since %(when)s") % {"when": counted_at}, False
    if not counts:
        return _("not counted yet"), False
    return _("%(counts)s in 24 h") % {"counts": ", ".join(counts)}, True


def _counted_at(infant_id: UUID, entries: Iterable[Entry]) -> datetime | None:
    """When the last wet or stool was seen, or counted."""
    seen = (
        one.true_at for one in about(tuple(entries), infant_id) if isinstance(one.fact, Wet | Stool)
    )
    return max(seen, default=None)


def _shows_gauge(infant: InfantAssessment, verdict: Verdict, content: Content) -> bool:
    """Whether the engine may be trusted, speaks of intake, and nothing known speaks against it."""
    estimate = infant.estimate
    if estimate is None or not estimate.is_reliable or not speaks_of_intake(estimate, content):
        return False
    is_short = estimate.intake_short_probability >= 1 - estimate.intake_short_probability
    return verdict.kind != "not known" and (verdict.kind not in KINDS_AGAINST or is_short)
