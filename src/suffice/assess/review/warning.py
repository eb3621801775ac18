"""Temperature, bilirubin, signs of the vocabulary and named illnesses, as measures and signs for the table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final, NamedTuple

import msgspec

from suffice.assess.answered import answers_in
from suffice.assess.case import Case, named_illnesses
from suffice.assess.parameters import CareParameters
from suffice.assess.review.bilirubin import review_bilirubin, with_bilirubin
from suffice.assess.review.felt import FELT, review_felt
from suffice.assess.review.observed_signs import with_observed_signs
from suffice.assess.review.parent_count import count_measures
from suffice.assess.review.result import Reviewed, measure, sign, together
from suffice.assess.review.sign import on_the_list, signs_seen
from suffice.assess.review.temperature import review_temperature
from suffice.assess.rules.table import Facts, Measure, Sign
from suffice.assess.rules.truth import Truth, truth_of
from suffice.clinical.age import elapsed_h
from suffice.clinical.entry import Entry, Illness, Observation, Temperature
from suffice.clinical.entry import Sign as SignFact
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant, Figure, Working
from suffice.knowledge.observable import FOLDER as OBSERVATIONS
from suffice.knowledge.observable import Observable
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.message import Instant, Message, message

BREAST_RED: Final = "breast_red"
"""Key of a sign whose level goes by how long it has lasted."""
BREAST_RED_A_DAY: Final = "breast_red_a_day"
BREAST_LUMP: Final = "breast_lump"
"""Key of the sign that is less in its first hours, where it is known when it began."""
PARENT_WORDS: Final = {"mother": message("mother"), "parent": message("parent")}


JAUNDICE: Final = "jaundice"
"""Key of the sign that lasts in many and begins late in few."""
WEEK: Final = "sign.week_d"
"""Key of the age from which it counts that somebody saw an infant without it."""
SUGAR_RISK: Final = "sugar_risk"
"""Observation of an infant: whether there is a reason to watch its blood sugar."""
DIABETES: Final = "diabetes"
"""Observation of the parent."""
ANSWER_NOT_KNOWN: Final = "not_known"
UNWELL: Final = ("very_ill", "chills")
"""Signs of a parent who is ill, as far as the infant goes."""


def review_warnings(
    case: Case, parameters: CareParameters, of_parent: Sequence[Entry] = ()
) -> Reviewed:
    """The temperatures that count, every sign that was entered and the illnesses that were named.

    Args:
        case: The infant.
        parameters: The content's parameters.
        of_parent: The current entries about the parent, for what her illness asks of the infant.
    """
    entered = signs_seen(case.entries, case.born_at, case.content)
    seen = with_bilirubin(entered, case, parameters.bilirubin)
    felt = together(review_felt(case, parameters, seen))
    again = felt.signs.get("felt_and_measured_again", ())
    ended = FELT if any(one.present is Truth.TRUE for one in again) else ()
    signs = Reviewed(
        signs={
            **{name: (one,) for name, one in seen.items()},
            "sign_present": on_the_list(seen, ended),
        }
    )
    return together(
        [
            *review_temperature(case, parameters),
            felt,
            *review_bilirubin(case, parameters, seen),
            *_review_new_jaundice(case, seen),
            signs,
            *_review_illnesses(case),
            *_review_parent(case, of_parent),
            *_review_sugar_risk(case, of_parent),
        ]
    )


def _review_new_jaundice(case: Case, seen: Mapping[str, Sign]) -> Iterator[Reviewed]:
    """A jaundice of an infant that somebody has seen without it past the first week: it has begun, and not lasted."""
    yellow, from_h = seen.get(JAUNDICE), case.content.constant(WEEK).value * HOURS_PER_DAY
    if yellow is None or yellow.present is not Truth.TRUE or yellow.at is None:
        return
    without = (
        one.true_at
        for one in with_observed_signs(case.entries, case.content)
        if type(one.fact) is SignFact and one.fact.sign == JAUNDICE and not one.fact.present
    )
    if any(at < yellow.at and (case.age_at(at) or 0.0) >= from_h for at in without):
        yield Reviewed(signs={"jaundice_is_new": (yellow,)})


def _review_sugar_risk(case: Case, of_parent: Sequence[Entry]) -> Iterator[Reviewed]:
    """Whether a risk of low blood sugar was noted of the infant, or of the parent; nothing where neither was asked.

    An answer that is not the expected one is one, but for 'not known'.
    """
    risk = has_sugar_risk(case.entries, of_parent, case.content)
    if risk is not None:
        yield sign("low_sugar_risk", risk)


def has_sugar_risk(
    own: Sequence[Entry], of_parent: Sequence[Entry], content: Content
) -> bool | None:
    """Whether a risk of low blood sugar was noted; None where nobody asked.

    Args:
        own: The entries about the infant.
        of_parent: Those about the parent.
        content: The content in force, for the answers that are usual.
    """
    asked: list[bool] = []
    for key, entries in ((SUGAR_RISK, own), (DIABETES, of_parent)):
        answer = _last_answer(key, entries)
        word = content.vocabularies.get(OBSERVATIONS, {}).get(key)
        if isinstance(word, Observable) and answer in word.answers and answer != ANSWER_NOT_KNOWN:
            asked.append(answer not in word.expected)
    return any(asked) if asked else None


def _last_answer(key: str, entries: Sequence[Entry]) -> str | None:
    """What was last found of something that is observed."""
    found = (one.fact for one in reversed(entries) if type(one.fact) is Observation)
    return next((one.answer for one in found if one.what == key), None)


def _review_parent(case: Case, entries: Sequence[Entry]) -> Iterator[Reviewed]:
    """The parent's fever and illness that no physician has answered, at the age of the infant."""
    open_ = _open_temperatures(entries, case.born_at)
    if open_:
        yield measure("parent_highest_temperature_c", max(open_, key=lambda one: one.value))
    for name, one in signs_seen(entries, case.born_at, case.content).items():
        if name in UNWELL and one.present is Truth.TRUE and not one.is_answered:
            yield Reviewed(signs={"parent_unwell": (one,)})


def _review_illnesses(case: Case) -> Iterator[Reviewed]:
    for what, named in named_illnesses(case.of_kinds(Illness)):
        ill = Sign(
            present=Truth.TRUE,
            # An infant of unknown age is taken for a newborn.
            age_h=case.age_at(named.true_at) or 0.0,
            at=named.true_at,
            is_answered=case.answers.cover(named.id),
            entry_ids=(named.id,),
            gaps=(("what", what), ("at", Instant(named.true_at))),
        )
        yield Reviewed(signs={"illness": (ill,)})


def parent_facts(  # what `assess` knows of the parent
    entries: Sequence[Entry],
    parameters: CareParameters,
    policy: Policy,
    *,
    content: Content,
    as_of: datetime,
    born_at: datetime | None = None,
) -> Facts:
    """What the table asks about the parent: temperatures and totals not answered yet, signs and illnesses.

    Args:
        entries: The current entries about the parent, in order of time.
        parameters: The content's parameters.
        policy: The clinic's policy, for the word for the parent.
        content: The content in force, for the words of signs.
        as_of: The instant of the question.
        born_at: When the youngest infant was born: ages of a row about the parent are time since
            then. None where it is not known: then no such age calms anything.
    """
    parent = ("parent", PARENT_WORDS[policy.parent_word])
    measures = _temperatures_of_parent(entries, parent, parameters, born_at)
    measures |= count_measures(entries, born_at)
    seen = signs_seen(entries, born_at, content)
    signs = {name: (one,) for name, one in _signs_of_parent(seen, parameters, as_of)}
    lump = dict(_lump(with_observed_signs(entries, content), seen, parameters, as_of))
    signs |= {name: (one,) for name, one in lump.items()}
    is_gone = bool(lump) and all(one.present is Truth.FALSE for one in lump.values())
    listed = on_the_list(seen, (BREAST_LUMP,) if is_gone else ())
    answers = answers_in(entries)
    illnesses = tuple(
        Sign(
            present=Truth.TRUE,
            age_h=_since_birth_h(named.true_at, born_at),
            at=named.true_at,
            is_answered=answers.cover(named.id),
            entry_ids=(named.id,),
            gaps=(parent, ("what", what), ("at", Instant(named.true_at))),
        )
        for what, named in named_illnesses(entries)
    )
    return Facts(
        measures=measures,
        signs={**signs, "illness": illnesses, "sign_present": listed},
        age_h=None if born_at is None else elapsed_h(born_at, as_of),
    )


def _since_birth_h(at: datetime, born_at: datetime | None) -> float:
    """Time since birth; without an instant of birth, that of one who has just given birth."""
    return 0.0 if born_at is None else max(elapsed_h(born_at, at), 0.0)


def _temperatures(entries: Sequence[Entry], born_at: datetime | None) -> list[Measure]:
    """All temperatures of the parent, in order of time."""
    return [
        Measure(
            value=entry.fact.temperature_c,
            age_h=_since_birth_h(entry.true_at, born_at),
            at=entry.true_at,
            figure=Figure(
                value=entry.fact.temperature_c,
                unit="Cel",
                working=Working(formula=message("as measured")),
            ),
            entry_ids=(entry.id,),
        )
        for entry in entries
        if isinstance(entry.fact, Temperature)
    ]


def _open_temperatures(entries: Sequence[Entry], born_at: datetime | None) -> list[Measure]:
    """Those that no physician has answered."""
    answers = answers_in(entries)
    return [one for one in _temperatures(entries, born_at) if not answers.cover(*one.entry_ids)]


def _temperatures_of_parent(
    entries: Sequence[Entry],
    parent: tuple[str, Message],
    parameters: CareParameters,
    born_at: datetime | None,
) -> dict[str, tuple[Measure, ...]]:
    """The parent's latest temperature, and the highest and lowest that no physician has answered.

    Those of the weeks after birth and later ones have each their own, so that none hides the other.
    """
    taken = _temperatures(entries, born_at)
    if not taken:
        return {}
    open_ = _open_temperatures(entries, born_at)
    weeks_h = parameters.parent_six_weeks_d.value * HOURS_PER_DAY
    bands = (
        [one for one in open_ if one.age_h < weeks_h],
        [one for one in open_ if one.age_h >= weeks_h],
    )
    measures = {
        "highest_temperature_c": tuple(
            max(band, key=lambda one: one.value) for band in bands if band
        ),
        "lowest_temperature_c": tuple(
            min(band, key=lambda one: one.value) for band in bands if band
        ),
        "last_temperature_c": (taken[-1],),
    }
    return {
        name: tuple(msgspec.structs.replace(one, gaps=(parent,)) for one in found)
        for name, found in measures.items()
        if found
    }


def _signs_of_parent(
    seen: Mapping[str, Sign], parameters: CareParameters, as_of: datetime
) -> Iterator[tuple[str, Sign]]:
    """Every sign that was entered, whether a red breast has lasted, and whether none is known."""
    for name, one in seen.items():
        yield name, one
        if name == BREAST_RED and one.at is not None:
            lasted = elapsed_h(one.at, as_of) >= parameters.breast_red_h.value
            yield BREAST_RED_A_DAY, msgspec.structs.replace(one, present=truth_of(lasted))
    is_red = BREAST_RED in seen and seen[BREAST_RED].present is Truth.TRUE
    # What nobody looked at explains no fever, and a lump without redness explains none either.
    yield "no_red_breast", Sign(present=truth_of(not is_red))


class _Lump(NamedTuple):
    """A lump from when it began until an entry says that it is gone."""

    noted: tuple[Entry, ...]
    began_at: datetime
    is_told: bool
    """Whether it was said of each of its entries when it began."""
    gone_at: datetime | None

    def is_short(self, as_of: datetime, limit: Constant) -> bool:
        """Whether it has not lasted, as far as anybody can know."""
        return self.is_told and elapsed_h(self.began_at, self.gone_at or as_of) < limit.value


def _lumps(entries: Sequence[Entry]) -> Iterator[_Lump]:
    """Each lump by itself: one that has gone does not make the next one older."""
    noted: list[tuple[Entry, SignFact]] = []
    for entry in entries:
        fact = entry.fact
        if not isinstance(fact, SignFact) or fact.sign != BREAST_LUMP:
            continue
        if fact.present:
            noted.append((entry, fact))
        elif noted:
            yield _lump_of(noted, entry.true_at)
            noted = []
    if noted:
        yield _lump_of(noted, None)


def _lump_of(noted: Sequence[tuple[Entry, SignFact]], gone_at: datetime | None) -> _Lump:
    return _Lump(
        tuple(entry for entry, _ in noted),
        min(min(fact.since or entry.true_at, entry.true_at) for entry, fact in noted),
        all(fact.since for _, fact in noted),
        gone_at,
    )


def _lump(
    entries: Sequence[Entry], seen: Mapping[str, Sign], parameters: CareParameters, as_of: datetime
) -> Iterator[tuple[str, Sign]]:
    """Whether a lump lasts, and whether it is new: one of which nobody said when it began lasts."""
    lump, lumps = seen.get(BREAST_LUMP), list(_lumps(entries))
    if lump is None or lump.at is None:
        return
    answers, limit, last = answers_in(entries), parameters.breast_lump_h, lumps[-1]
    open_ = [one for one in lumps if not answers.cover(one.noted[-1].id)] or [last]
    lasts = not all(one.is_short(as_of, limit) for one in open_)
    is_new = not lasts and last.gone_at is None
    gaps = {**dict(lump.gaps), "at": Instant(last.began_at)}
    yield "breast_lump_lasts", msgspec.structs.replace(lump, present=truth_of(lasts))
    yield (
        "breast_lump_new",
        msgspec.structs.replace(
            lump, present=truth_of(is_new), at=last.began_at, gaps=tuple(gaps.items())
        ),
    )
