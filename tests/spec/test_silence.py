"""Time answers nothing, and neither do units, words and zone: each vignette asked again.

Fourteen hours in which nobody enters anything leave every flag that somebody must know of: it stands
itself, or what it has grown to does. Counts of feeds lapse, into 'not known' at no lower level.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from functools import cache

from msgspec.structs import replace

from rows import each_row
from spec.test_triage import VIGNETTES, assessed, findings_of
from spec.vignette import Vignette
from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment
from suffice.clinical.entry import Record
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

SILENCE = timedelta(hours=14)
LEVELS = ("emergency", "physician", "consultant")
"""Those at which somebody must know, the most urgent first."""
HOW_URGENT = {level: place for place, level in enumerate((*LEVELS, "look", "note"))}
FLAGS = {
    flag.code: flag.level
    for flag in load().flags
    if flag.level in LEVELS and flag.topic != "engine"
}
ELSEWHERE = {
    "two-kinds-of-flags",
    "twin-of-one-in-need",
    "twin-of-one-that-died",
    "caesarean-loss-well",
}
"""In force only where a clinic chose it, or asked of twins: tests/unit/assess."""
LAPSE = {"few-feeds", "few-feeds-older", "feeds-always-long"}
OTHERWISE = Policy(
    zone="Asia/Kathmandu",
    weight_unit="lb oz",
    volume_unit="oz",
    temperature_unit="F",
    length_unit="in",
    language="es",
    parent_word="mother",
    date_order="month first",
)


def asked(
    vignette: Vignette,
    later: timedelta = timedelta(),
    policy: Policy | None = None,
    record: Record | None = None,
) -> FamilyAssessment:
    own = vignette.policy
    policy = own if policy is None else replace(policy, constants=own.constants)
    return assess(
        record or vignette.record,
        vignette.asked_at + later,
        policy.content_in_force(load()),
        policy,
        engine=False,
    )


@cache
def hours_later(vignette: Vignette) -> FamilyAssessment:
    """Once in a process: many a vignette raises several flags."""
    return asked(vignette, SILENCE)


def those_that_raise_a_flag() -> Iterator[tuple[Vignette, str]]:
    for vignette in VIGNETTES:
        for says in vignette.says:
            word, code = says.split(" ", 1)
            if word not in {"no", "group"} and code in FLAGS:
                yield vignette, code


RAISED = tuple(those_that_raise_a_flag())


def test_every_flag_that_somebody_must_know_of_is_asked():
    assert FLAGS.keys() - {code for _, code in RAISED} <= ELSEWHERE


@each_row(sorted({code for _, code in RAISED}))
def test_a_flag_survives_fourteen_hours_of_silence(code):
    for vignette in (one for one, raised in RAISED if raised == code):
        before, after = assessed(vignette), hours_later(vignette)
        level, stays = findings_of(before)[code].level, findings_of(after)
        if level not in LEVELS:
            continue
        assert after.rank.tier <= before.rank.tier, vignette.case
        most = min(HOW_URGENT[one.level] for one in stays.values())
        assert most <= HOW_URGENT[level], vignette.case
        if code not in LAPSE and most == HOW_URGENT[level]:
            of_its_kind = {one for one in stays if one.split("-")[0] == code.split("-")[0]}
            assert code in stays or of_its_kind, (vignette.case, sorted(stays))


def told(assessment: FamilyAssessment) -> tuple[object, ...]:
    """What is decided, without the words."""
    everybody = [assessment.findings, *(one.findings for one in assessment.infants)]
    flags = [[(one.code, one.level, one.colour) for one in findings] for findings in everybody]
    return assessment.rank.tier, flags


@each_row(VIGNETTES[::7], lambda one: f"{one.chapter}: {one.case}")
def test_units_words_and_the_order_of_entries_change_nothing(vignette):
    usual = told(assessed(vignette))
    assert told(asked(vignette, policy=OTHERWISE)) == usual
    record = vignette.record
    turned = Record(
        family_id=record.family_id,
        infants=record.infants,
        entries=tuple(reversed(record.entries)),
    )
    assert told(asked(vignette, record=turned)) == usual
