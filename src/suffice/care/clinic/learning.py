"""Learning from the clinic's own families how infants grow and are weighed there.

Once a night the newest infants of the record, discharged ones too, are read and pooled as a site is
(:mod:`suffice.inference.growth.site`); where that says something new, a version of the policy is
appended. Nothing that is stored of an infant leaves the record: what is kept are the coefficients of
all of them together.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING, Final
from uuid import uuid4
from zoneinfo import ZoneInfo

import msgspec

from suffice.assess.case import case_of
from suffice.assess.engine.evidence import evidence_of
from suffice.care.clinic.clinic import clinic, keep_site
from suffice.clinical.entry import about
from suffice.knowledge.clinic_site import ClinicSite, clinic_site, prior_name
from suffice.knowledge.policy import Clinic, Policy
from suffice.record import repository
from suffice.record.repository import one_transaction

if TYPE_CHECKING:
    from suffice.inference.growth.prior import Weighed

logger = logging.getLogger("suffice.learning")

ACTOR: Final = "suffice"
"""Who appends the version: nobody signed in."""
FROM_HOUR, UNTIL_HOUR = 2, 5
"""The hours of the clinic's night in which it learns."""
_FAMILIES_AT_ONCE: Final = 100
_WEIGHTS_LEAST: Final = 2
_NEWS_SHARE: Final = 0.1
"""Infants more or fewer than last time, as a share, that make a new version worth assessing all anew."""
_NEWS_AFTER_DAYS: Final = 30
"""Days after which other coefficients from as many infants are news too."""
_tried: dict[str, date] = {}


def learn_at_night(now: datetime) -> ClinicSite | None:
    """Learn, if it is night at the clinic and was not tried this night; what was newly kept."""
    here = clinic()
    local = now.astimezone(ZoneInfo(here.policy.zone))
    if not FROM_HOUR <= local.hour < UNTIL_HOUR or _tried.get("night") == local.date():
        return None
    _tried["night"] = local.date()
    return learn(now)


def learn(now: datetime) -> ClinicSite | None:
    """Learn from the families on the record, and keep what is new.

    Returns:
        What was kept; None where too few infants are there, where what is kept already says as
        much, or where the clinic leaves it off.

    Raises:
        StorageError: RECORD-009.
    """
    here = clinic()
    if here.policy.site_off:
        return None
    found = learned(here, now)
    if found is None:
        return None
    with one_transaction():
        newest = clinic().policy
        if not is_news(found, newest):
            return None
        keep_site(uuid4(), found, now=now, actor=ACTOR)
    logger.info("learned from %d infants", found.infants_count)
    return found


def is_news(found: ClinicSite, policy: Policy) -> bool:
    """Whether what was found should take the place of what is kept."""
    kept = policy.site
    if kept is None or kept.prior != found.prior:
        return True
    more = abs(found.infants_count - kept.infants_count) >= _NEWS_SHARE * kept.infants_count
    is_old = (found.learned_at - kept.learned_at).days >= _NEWS_AFTER_DAYS
    return more or (is_old and found.mean != kept.mean)


def learned(here: Clinic, now: datetime) -> ClinicSite | None:
    """What the record says as of now; None where too few infants have been weighed twice."""
    import numpy as np  # noqa: PLC0415 -- commands that list start without it

    from suffice.inference.growth.prior import stacked  # noqa: PLC0415
    from suffice.inference.growth.site import pool_site  # noqa: PLC0415
    from suffice.knowledge.growth_forecast import growth_of  # noqa: PLC0415

    growth = growth_of(here.content)
    most = int(here.content.constant("forecast.sample_infants_count").value)
    least = int(here.content.constant("forecast.clinic_infants_least_count").value)
    kept: list[Weighed] = []
    for weighed in _weighed(here, now):
        kept.append(weighed)
        if len(kept) >= most:
            break
    if len(kept) < least:
        return None
    whole = stacked(kept)
    pool = pool_site(growth.prior, growth.reference, whole)
    return clinic_site(
        pool,
        growth.prior,
        weights_count=int(np.isfinite(whole.weight_g).sum()),
        learned_at=now,
    )


def is_of_prior(site: ClinicSite, here: Clinic) -> bool:
    """Whether what was learned departs from the growth prior in force."""
    from suffice.knowledge.growth_forecast import growth_prior  # noqa: PLC0415

    return site.prior == prior_name(growth_prior(here.content))


def _weighed(here: Clinic, now: datetime) -> Iterator[Weighed]:
    """Every infant that was weighed twice, the newest families first."""
    import numpy as np  # noqa: PLC0415 -- commands that list start without it

    from suffice.inference.growth.blend import weighed_of  # noqa: PLC0415
    from suffice.knowledge.growth_forecast import growth_of  # noqa: PLC0415

    growth = growth_of(here.content)
    until_d = here.content.constant("forecast.checked_until_d").value
    ids = repository.family_ids()[::-1]
    for start in range(0, len(ids), _FAMILIES_AT_ONCE):
        records = repository.read_many(ids[start : start + _FAMILIES_AT_ONCE])
        for record in records.values():
            for infant in record.infants:
                entries = about(record.entries_at(now), infant.id)
                case = case_of(
                    infant, "", entries, as_of=now, content=here.content, policy=here.policy
                )
                evidence = evidence_of(case)
                if evidence is None:
                    continue
                young = msgspec.structs.replace(evidence, now_d=min(evidence.now_d, until_d))
                weighed = weighed_of(young, growth)
                if np.isfinite(weighed.weight_g).sum() >= _WEIGHTS_LEAST:
                    yield weighed
