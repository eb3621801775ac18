"""The Family page: red flags first, then each infant with its weights, figures and forecast."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Final
from urllib.parse import urlencode
from uuid import UUID

import msgspec
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from suffice.assess.in_care import can_be_taken, usual_recipient
from suffice.assess.results import (
    FamilyAssessment,
    Finding,
    InfantAssessment,
    Tier,
    WeighAgain,
)
from suffice.assess.rules.act_said import act_left_to_say
from suffice.care.family.asking import Answer
from suffice.clinical.entry import Birth, Entry
from suffice.knowledge.schema import LEVELS
from suffice.knowledge.store import Content
from suffice.language.kinds import KINDS
from suffice.web.family.answer import ActShown, StripShown, act_shown, strip_shown
from suffice.web.family.died import DiedShown, died_shown
from suffice.web.family.engine import EngineShown, engine_shown
from suffice.web.family.figures import OUTPUT, Figures, figures_of
from suffice.web.family.weight_chart import ChartShown, chart_shown
from suffice.web.family.weight_table import WeightShown, weight_shown
from suffice.web.shown.fact import describe, kind_word, setting_word, value_word
from suffice.web.shown.mark import Mark, level_mark, tier_mark
from suffice.web.shown.wording import Wording, as_heading, called, in_sentences, in_words
from suffice.web.shown.working import WorkingShown, working_shown

SHOWN_ELSEWHERE: Final = frozenset({"engine-refuses"})
"""Findings that stand word for word under 'Is it enough?'."""
LEAST_FOLDED: Final = 2
"""From so many facts that nobody knows on, one line says them, and opens."""
Workings = tuple[tuple[str, WorkingShown], ...]
"""Names with how what they name came about."""


class FindingShown(msgspec.Struct, frozen=True, kw_only=True):
    """A finding with its mark and, where it was computed, its working.

    `to_whom` says who else must know, and how soon; empty where nobody need. `clears` says what
    ends it; empty for a note. `taken` says who has taken it over, `asked` what was asked of them.
    `hand_over` and `answer` are what the forms are filled with; empty where nobody can be asked.
    `inside` is what one line stands for, where it stands for several. `about` is whose it is, and
    `is_said_above` whether a flag of the same one, further up in the list, names the same act;
    `left_to_say` is what the sentence does not say of `to_whom`. `on_paper` and `taken_on_paper` are the
    sentence and who has taken it as paper says them, which is read on another day; empty where that is the same.
    """

    colour: str
    mark: Mark
    sentence: str
    to_whom: str
    clears: str
    whose: str
    working: WorkingShown | None
    taken: str = ""
    is_late: bool = False
    asked: str = ""
    hand_over: str = ""
    answer: str = ""
    inside: tuple[FindingShown, ...] = ()
    about: str = ""
    is_said_above: bool = False
    left_to_say: str = ""
    on_paper: str = ""
    taken_on_paper: str = ""

    @property
    def act(self) -> str:
        """Who else must know, and how soon, where neither a flag above nor the sentence says it."""
        return "" if self.is_said_above else self.left_to_say


class OutputShown(msgspec.Struct, frozen=True, kw_only=True):
    """Wets or stools of 24 hours against the norm of the day."""

    name: str
    seen: str
    expected: str
    working: WorkingShown | None
    norm: WorkingShown | None


class WeighShown(msgspec.Struct, frozen=True, kw_only=True):
    """The one date to weigh again, with its reason."""

    advice: str
    reason: str
    working: WorkingShown | None


class InfantShown(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the page says of one infant."""

    id: UUID
    position: int
    name: str
    birth_entry_id: UUID | None
    age: str
    head: tuple[tuple[str, str], ...]
    notes: tuple[FindingShown, ...]
    strip: StripShown | None
    figures: Figures
    weights: tuple[WeightShown, ...]
    output: tuple[OutputShown, ...]
    has_24h: bool
    has_z: bool
    chart: ChartShown | None
    engine: EngineShown | None
    no_engine: str
    weigh_again: WeighShown | None
    died: DiedShown | None = None
    death_doubt: str = ""

    @property
    def weighing_workings(self) -> Workings:
        """How the date to weigh again, and the least difference of two weights, came about."""
        least = self.engine.least_difference if self.engine else None
        workings = [(one.advice, one.working) for one in [self.weigh_again] if one]
        workings += [(one.text, one.working) for one in [least] if one]
        return tuple((name, working) for name, working in workings if working)

    @property
    def output_workings(self) -> Workings:
        """How the counts and their norms came about."""
        norm = _("Norm of the day")
        workings = [(row.name, row.working) for row in self.output]
        workings += [(f"{row.name}: {norm}", row.norm) for row in self.output]
        return tuple((name, working) for name, working in workings if working)


class FamilyShown(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the page says of a family, its time line apart."""

    id: UUID
    name: str
    setting: str
    due: datetime | None
    is_overdue: bool
    discharged: bool
    mark: Mark
    reason: str
    parent_act: ActShown | None
    parent_first: bool
    reds: tuple[FindingShown, ...]
    looks: tuple[FindingShown, ...]
    notes: tuple[FindingShown, ...]
    infants: tuple[InfantShown, ...]
    content_version: str
    engine_version: str

    @property
    def first_born_first(self) -> tuple[InfantShown, ...]:
        """The living in an order that never changes: what is pressed without looking keeps its place."""
        alive = (one for one in self.infants if one.died is None)
        return tuple(sorted(alive, key=lambda one: one.position))

    @property
    def has_living(self) -> bool:
        """Whether an infant lives: else nothing that is for one is offered, and no tick is shown."""
        return bool(self.first_born_first)

    @property
    def births_known(self) -> bool:
        """Whether every infant's birth is on the record: then it can only be corrected."""
        return all(infant.birth_entry_id for infant in self.infants)


def family_page(answer: Answer, content: Content, wording: Wording) -> FamilyShown:
    """The page of a family.

    Args:
        answer: The record and what was computed from it.
        content: The content in force, for the workings of the engine's answer.
        wording: How the clinic reads numbers and times, and whether it is read now.
    """
    assessed = answer.assessment
    names = infant_names(assessed)
    infants = most_urgent_first(assessed)
    everything = [*assessed.findings, *(f for one in infants for f in one.findings)]
    entries = answer.record.entries_at(assessed.as_of)
    births = {one.infant_id: one.id for one in entries if isinstance(one.fact, Birth)}
    due = assessed.next_due_at
    return FamilyShown(
        id=assessed.family_id,
        name=called(assessed.name) or _("Family without a name"),
        setting=str(setting_word(assessed.setting)),
        due=due,
        is_overdue=due is not None and due < assessed.as_of,
        discharged=assessed.discharged,
        mark=tier_mark(assessed.rank.tier),
        reason=in_sentences(assessed.rank.reason),
        parent_act=parent_act_of(assessed, wording),
        parent_first=is_parent_first(assessed),
        reds=flags_shown((one for one in everything if one.colour == "red"), names, wording),
        looks=_looks([one for one in everything if one.colour == "amber"], names, wording),
        notes=flags_shown((one for one in assessed.findings if _is_note(one)), names, wording),
        infants=tuple(
            _infant(
                one,
                _engine(one, entry_words(answer, wording), content, wording),
                None if one.died else chart_shown(one, content, wording),
                births.get(one.infant_id),
                strip_of(one, entries, content, wording, assessed.as_of),
                content,
                wording,
            )
            for one in infants
        ),
        content_version=assessed.content_version,
        engine_version=assessed.engine_version,
    )


def most_urgent_first(assessed: FamilyAssessment) -> tuple[InfantAssessment, ...]:
    """The infants by how soon something is to be done about each; among equals the first-born first."""
    return tuple(
        sorted(
            assessed.infants,
            key=lambda one: Tier.SETTLED if one.verdict is None else one.verdict.act.tier,
        )
    )


def infant_names(assessed: FamilyAssessment) -> dict[UUID | None, str]:
    """Infant id to name; with one infant alone there is no need to say whose a finding is."""
    if len(assessed.infants) == 1:
        return {}
    return {infant.infant_id: called(infant.name) for infant in assessed.infants}


def entry_words(answer: Answer, wording: Wording) -> dict[str, str]:
    """Entry id to the entry in words with its time, for those that an engine's answer names."""
    estimates = [one.estimate for one in answer.assessment.infants if one.estimate]
    named = {one.reading_id for estimate in estimates for one in estimate.influences}
    named |= {one.reading_id for estimate in estimates for one in estimate.suspects}
    return {
        str(entry.id): f"{kind_word(entry.fact)}, {wording.short_when(entry.true_at)}:"
        f" {describe(entry.fact, wording)}"
        for entry in answer.record.entries
        if str(entry.id) in named
    }


def _finding(finding: Finding, names: Mapping[UUID | None, str], wording: Wording) -> FindingShown:
    taken = finding.handed_over
    about = {"flag": finding.code, "infant": str(finding.infant_id or "parent")}
    to = {"to": usual_recipient(finding), "how": "phone"}
    is_asked = can_be_taken(finding)
    return FindingShown(
        colour=finding.colour,
        mark=level_mark(finding.level),
        sentence=in_sentences(finding.messages, wording.now),
        to_whom=in_words(finding.to_whom),
        clears="" if finding.level == "note" else in_words(finding.clears),
        whose=names.get(finding.infant_id, ""),
        working=working_shown(finding.working, wording) if finding.working else None,
        taken=in_words(taken.says, wording.now) if taken else "",
        is_late=taken is not None and taken.is_late,
        asked=taken.asked if taken else "",
        hand_over=urlencode(about | to) if is_asked else "",
        answer=urlencode(about) if is_asked else "",
        about=about["infant"],
        left_to_say=in_words(act_left_to_say(finding)),
    )


def flags_shown(
    findings: Iterable[Finding], names: Mapping[UUID | None, str], wording: Wording
) -> tuple[FindingShown, ...]:
    """Findings that are not said further down, the most urgent first."""
    return acts_once(_each(findings, names, wording))


def _each(
    findings: Iterable[Finding], names: Mapping[UUID | None, str], wording: Wording
) -> Iterator[FindingShown]:
    kept = [one for one in findings if one.code not in SHOWN_ELSEWHERE]
    for one in sorted(kept, key=lambda finding: LEVELS.index(finding.level)):
        yield _finding(one, names, wording)


def acts_once(shown: Iterable[FindingShown]) -> tuple[FindingShown, ...]:
    """The same flags; an act, or who has taken it over, that several of one infant name is said once."""
    seen: set[tuple[str, str, str]] = set()
    kept = []
    for one in shown:
        act = (one.about, one.to_whom, one.taken)
        is_above = one.to_whom != "" and act in seen
        taken = _("The same as above.") if is_above and one.taken else one.taken
        kept.append(msgspec.structs.replace(one, is_said_above=is_above, taken=taken))
        seen.add(act)
    return tuple(kept)


def _looks(
    findings: Sequence[Finding], names: Mapping[UUID | None, str], wording: Wording
) -> tuple[FindingShown, ...]:
    """What is to be looked at; facts that nobody knows share one line, at the place of the first.

    What somebody has taken over keeps a line of its own.
    """
    kept = sorted(findings, key=lambda one: LEVELS.index(one.level))
    unknown = [one for one in kept if one.topic == "not known" and one.handed_over is None]
    if len(unknown) < LEAST_FOLDED:
        return flags_shown(kept, names, wording)
    place = kept.index(unknown[0])
    folded = {id(one) for one in unknown}
    before, after = kept[:place], [one for one in kept[place:] if id(one) not in folded]
    line = _folded(unknown, names, wording)
    return acts_once([*_each(before, names, wording), line, *_each(after, names, wording)])


def _folded(
    unknown: Sequence[Finding], names: Mapping[UUID | None, str], wording: Wording
) -> FindingShown:
    """One line for several facts that nobody knows: whose, what, and who asks for them by when."""
    first = _finding(unknown[0], names, wording)
    whose = dict.fromkeys(names.get(one.infant_id, "") for one in unknown)
    what = dict.fromkeys(in_words(one.name) for one in unknown)
    text = ngettext(
        "%(n)s fact to find out: %(what)s.", "%(n)s facts to find out: %(what)s.", len(unknown)
    )
    return FindingShown(
        colour=first.colour,
        mark=first.mark,
        sentence=text % {"n": len(unknown), "what": ", ".join(what)},
        to_whom=first.to_whom,
        left_to_say=first.to_whom,
        clears="",
        whose=", ".join(filter(None, whose)),
        working=None,
        inside=flags_shown(unknown, names, wording),
    )


def _is_note(finding: Finding) -> bool:
    return finding.colour == "note"


def parent_act_of(assessed: FamilyAssessment, wording: Wording) -> ActShown | None:
    """What is done next about the parent; None where nothing asks for it."""
    act = assessed.parent_act
    return None if act is None else act_shown(act, "", assessed.as_of, keeps=wording.now is None)


def is_parent_first(assessed: FamilyAssessment) -> bool:
    """Whether the parent needs somebody sooner than any infant: then the parent stands first."""
    tiers = [one.verdict.act.tier for one in assessed.infants if one.verdict]
    return assessed.parent_act is not None and all(assessed.parent_act.tier < one for one in tiers)


def strip_of(
    infant: InfantAssessment,
    entries: tuple[Entry, ...],
    content: Content,
    wording: Wording,
    as_of: datetime,
) -> StripShown | None:
    """The answer about one infant; None before it was judged."""
    if infant.verdict is None:
        return None
    return strip_shown(infant, infant.verdict, entries, content, wording, as_of)


def _infant(
    infant: InfantAssessment,
    engine: EngineShown | None,
    chart: ChartShown | None,
    birth_entry_id: UUID | None,
    strip: StripShown | None,
    content: Content,
    wording: Wording,
) -> InfantShown:
    estimate = infant.estimate
    suspects = {one.reading_id: one.probability for one in estimate.suspects} if estimate else {}
    return InfantShown(
        id=infant.infant_id,
        position=infant.position,
        name=called(infant.name),
        birth_entry_id=birth_entry_id,
        age="" if infant.age_h is None or infant.died else wording.age(infant.age_h),
        head=tuple(_head(infant, wording)),
        notes=flags_shown((one for one in infant.findings if _is_note(one)), {}, wording),
        strip=strip,
        figures=figures_of(infant, engine, content, wording),
        weights=tuple(weight_shown(row, suspects, wording) for row in reversed(infant.weights)),
        output=tuple(_output(infant, wording)),
        has_z=any(row.z is not None for row in infant.weights),
        has_24h=any(row.change_from_24h_percent is not None for row in infant.weights),
        chart=chart,
        engine=engine,
        no_engine="" if engine else _not_computed(infant, "estimate"),
        weigh_again=_weigh_again(infant.weigh_again, wording),
        died=None if infant.died is None else died_shown(infant.died),
        death_doubt=in_sentences([infant.death_doubt]),
    )


def _not_computed(infant: InfantAssessment, key: str) -> str:
    """Why a figure is not there; empty where it is."""
    return in_sentences([infant.not_computed.get(key, "")])


def _engine(
    infant: InfantAssessment, entries: Mapping[str, str], content: Content, wording: Wording
) -> EngineShown | None:
    if infant.estimate is None:
        return None
    shown = engine_shown(infant.estimate, infant.engine_facts, entries, wording, content)
    return msgspec.structs.replace(shown, agreement=in_words(infant.agreement))


def _weigh_again(advice: WeighAgain | None, wording: Wording) -> WeighShown | None:
    if advice is None:
        return None
    working = None if advice.working is None else working_shown(advice.working, wording)
    return WeighShown(
        advice=in_sentences(advice.advice), reason=in_sentences([advice.reason]), working=working
    )


def _head(infant: InfantAssessment, wording: Wording) -> Iterable[tuple[str, str]]:
    if infant.born_at is not None:
        yield _("Born"), wording.when(infant.born_at)
    if infant.age_h is not None and infant.died is None:
        yield _("Age"), wording.age(infant.age_h)
    if infant.gestation_days is not None:
        yield _("Gestation"), wording.gestation(infant.gestation_days)
    if infant.birth_weight_g is not None:
        yield _("Birth weight"), str(wording.weight(infant.birth_weight_g))
    if infant.sex is not None:
        yield _("Sex"), value_word(infant.sex)


def _output(infant: InfantAssessment, wording: Wording) -> Iterable[OutputShown]:
    for key in OUTPUT:
        seen, norm = infant.figures.get(key), infant.figures.get(f"{key}_expected")
        if seen is None and norm is None and key not in infant.not_computed:
            continue
        yield OutputShown(
            name=as_heading(KINDS[key.removesuffix("s_24h")]),
            seen=_not_computed(infant, key) if seen is None else _count(seen, wording),
            expected="" if norm is None else wording.number(norm.value),
            working=None if seen is None else working_shown(seen.working, wording),
            norm=None if norm is None else working_shown(norm.working, wording),
        )


def _count(figure: Any, wording: Wording) -> str:
    """A count of 24 hours: exact, at least, or between."""
    if figure.high is None:
        return _("at least %(low)s") % {"low": wording.number(figure.value)}
    if figure.high == figure.low:
        return wording.number(figure.value)
    return _("%(low)s to %(high)s") % {
        "low": wording.number(figure.low),
        "high": wording.number(figure.high),
    }
