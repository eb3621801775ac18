"""What the engine may use of an infant's entries, in the engine's own form.

Single wets and stools are left out: only a count over a stated time says that none was missed.
A breast feed without a test weight gives no volume and is left out as well. Of other milk without a volume it
is told that it was given.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from suffice.assess.case import Case, present_illnesses
from suffice.assess.parameters import parameters_of
from suffice.assess.review.intake import A_DAY, known_intake_of
from suffice.clinical.entry import Feed, Illness, Stool, TestWeight, Wet
from suffice.clinical.units import HOURS_PER_DAY
from suffice.inference.evidence import (
    DiaperCount,
    DiaperKind,
    Evidence,
    MilkGiven,
    TestWeighing,
    WeightReading,
)


def evidence_of(case: Case) -> Evidence | None:
    """The engine's evidence; None while the instant of birth is not known."""
    if case.birth is None or case.age_h is None:
        return None
    birth = case.birth
    return Evidence(
        now_d=case.age_h / HOURS_PER_DAY,
        birth_weight_g=birth.birth_weight_g,
        birth_scale=case.birth_entry.device if case.birth_entry else None,
        sex=birth.sex,
        gestation_days=birth.gestation_days,
        mode=birth.mode,
        intrapartum_fluids_ml=birth.intrapartum_fluids_ml,
        multiple_count=birth.multiple,
        illness=", ".join(present_illnesses(case.of_kinds(Illness))) or None,
        weights=tuple(_weights(case)),
        test_weighings=tuple(_test_weighings(case)),
        milk_given=tuple(_milk_given(case)),
        unmeasured_milk_d=tuple(_unmeasured_milk(case)),
        diapers=(*_counts(case, Wet, "wet"), *_counts(case, Stool, "stool")),
        scales=case.policy.scales,
    )


def _age_d(hours: float | None) -> float:
    return (hours or 0.0) / HOURS_PER_DAY


def _weights(case: Case) -> Iterator[WeightReading]:
    """Each weight once: one that was written down twice is not two that agree."""
    seen: set[tuple[float, float, str | None]] = set()
    for one in case.weighings:
        reading = (one.age_h, one.weight_g, one.scale)
        if not one.is_birth and reading not in seen:
            seen.add(reading)
            yield WeightReading(
                id=str(one.entry_id),
                age_d=one.age_h / HOURS_PER_DAY,
                weight_g=one.weight_g,
                scale=one.scale,
                clothing=one.clothing,  # type: ignore[arg-type]  # a Weighing's word is a Weight's
            )


def _test_weighings(case: Case) -> Iterator[TestWeighing]:
    """Test weights one by one, but as one sum where a whole day of them covers every feed."""
    # Changed clothes make the difference meaningless; 'not asked' is given the benefit.
    usable = [(one, fact) for one, fact in case.facts(TestWeight) if fact.same_clothes is not False]
    while usable:
        last, fact = usable[-1]
        day = [(one, f) for one, f in usable if one.true_at > last.true_at - A_DAY]
        if _is_whole_day(case, last.true_at, len(day)):
            yield TestWeighing(
                id=str(last.id),
                age_d=_age_d(case.age_at(last.true_at)),
                transfer_g=sum(one.after_g - one.before_g for _, one in day),
                feeds_count=len(day),
                whole_day=True,
            )
            usable = usable[: -len(day)]
        else:
            yield TestWeighing(
                id=str(last.id),
                age_d=_age_d(case.age_at(last.true_at)),
                transfer_g=fact.after_g - fact.before_g,
            )
            usable.pop()


def _is_whole_day(case: Case, at: datetime, weighed_count: int) -> bool:
    """Whether the log shows that every feed at the breast of the day up to `at` was weighed."""
    age_h = case.age_at(at)
    if age_h is None or age_h < HOURS_PER_DAY or weighed_count <= 1:
        return False
    known = known_intake_of(case, at, parameters_of(case.content))
    return known.is_whole and not known.problems


def _milk_given(case: Case) -> Iterator[MilkGiven]:
    for entry, fact in case.facts(Feed):
        if fact.milk != "breast" and fact.volume_ml is not None:
            yield MilkGiven(
                id=str(entry.id),
                age_d=_age_d(case.age_at(entry.true_at)),
                volume_ml=fact.volume_ml,
                milk=fact.milk,
            )


def _unmeasured_milk(case: Case) -> Iterator[float]:
    for entry, fact in case.facts(Feed):
        if fact.milk != "breast" and fact.volume_ml is None:
            yield _age_d(case.age_at(entry.true_at))


def _counts(case: Case, kind: type[Wet | Stool], name: DiaperKind) -> Iterator[DiaperCount]:
    for entry, fact in case.facts(kind):
        if fact.over_h is None or fact.over_h <= 0:
            continue
        age_h = case.age_at(entry.true_at)
        if age_h is not None:
            # Nobody counts before birth: a day's count at 9 hours of age is a count of 9 hours.
            span_h = min(fact.over_h, age_h)
            if span_h > 0:
                yield DiaperCount(
                    id=str(entry.id),
                    kind=name,
                    age_d=age_h / HOURS_PER_DAY,
                    count=fact.count,
                    span_d=span_h / HOURS_PER_DAY,
                )
