from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from clinical_constants import constant
from spoken import in_sentences, text
from suffice.clinical.age import AgeParameters
from suffice.clinical.temperature import (
    TemperatureLimits,
    is_doubtful_site,
    judge_temperature,
    stage_at,
)

LIMITS = TemperatureLimits(
    fever_c=constant(38.0, "Cel"),
    repeat_c=constant(37.5, "Cel"),
    cool_c=constant(36.5, "Cel"),
    low_c=constant(35.5, "Cel"),
    cold_c=constant(36.0, "Cel"),
    fever_until_age_months=constant(3, "mo"),
    fever_until_postmenstrual_d=constant(371, "d"),
    high_fever_c=constant(39.0, "Cel"),
    high_fever_until_age_months=constant(6, "mo"),
    fever_lasts_d=constant(5, "d"),
    warm_again_h=constant(0.5, "h"),
    cool_again_h=constant(1, "h"),
    site_until_d=constant(28, "d"),
    site_again_h=constant(1, "h"),
)
AGES = AgeParameters(
    term_days=constant(280, "d"),
    preterm_before_days=constant(259, "d"),
    correct_until_days=constant(730, "d"),
)


@pytest.mark.parametrize(
    ("temperature", "verdict"),
    [
        (39.0, "fever"),
        (38.0, "fever"),
        (37.9, "take again"),
        (37.5, "take again"),
        (37.4, "usual"),
        (36.5, "usual"),
        (36.4, "take again"),
        (35.5, "take again"),
        (35.4, "low"),
    ],
)
def test_verdicts_on_each_side_of_each_limit(temperature, verdict):
    found = judge_temperature(temperature, LIMITS, age_d=5, site="axilla")
    assert found.verdict == verdict
    assert found.working.notes == ()


def test_where_it_was_taken_is_said_and_nothing_is_added():
    ear = judge_temperature(37.9, LIMITS, age_d=5, site="ear")
    assert ear.verdict == "take again"
    assert any("Taken at the ear" in text(note) for note in ear.working.notes)
    unknown = judge_temperature(37.9, LIMITS, age_d=5)
    assert in_sentences(unknown.working.notes) == "Where it was taken is not known."


def test_past_the_published_age_the_limits_are_still_used_and_it_is_said():
    found = judge_temperature(38.2, LIMITS, age_d=120, stage="middle", site="axilla")
    assert found.verdict == "fever"
    assert any("3 months" in text(note) for note in found.working.notes)


@pytest.mark.parametrize(
    ("temperature", "stage", "limit", "is_beyond"),
    [
        (39.0, "young", 38.0, False),
        (39.0, "middle", 39.0, False),
        (38.9, "middle", 38.0, True),
        (39.0, "older", 38.0, True),
    ],
)
def test_from_three_to_six_months_the_higher_limit_judges(temperature, stage, limit, is_beyond):
    """39 °C at 3 to 6 months: NICE NG143, amber column, as quoted in summaries."""
    found = judge_temperature(temperature, LIMITS, age_d=100, stage=stage, site="axilla")
    assert found.verdict == "fever"
    assert found.working.constants[0].value == limit
    assert bool(found.working.notes) is is_beyond


def stage(born, at, gestation_days=273, zone="Europe/Madrid"):
    place = ZoneInfo(zone)
    return stage_at(
        datetime.fromisoformat(at).replace(tzinfo=place),
        datetime.fromisoformat(born).replace(tzinfo=place),
        LIMITS,
        AGES,
        zone=zone,
        gestation_days=gestation_days,
    )


@pytest.mark.parametrize(
    ("born", "at", "expected"),
    [
        ("2026-03-02 18:00", "2026-06-01 23:59", "young"),
        ("2026-03-02 18:00", "2026-06-02 00:00", "middle"),
        ("2026-03-02 18:00", "2026-09-01 23:59", "middle"),
        ("2026-03-02 18:00", "2026-09-02 00:00", "older"),
        ("2026-11-30 06:00", "2027-02-28 23:59", "young"),
        ("2026-11-30 06:00", "2027-03-01 00:00", "middle"),
        ("2026-11-12 06:00", "2027-02-12 00:00", "middle"),
        ("2026-12-31 06:00", "2027-03-30 23:59", "young"),
        ("2026-12-31 06:00", "2027-03-31 00:00", "middle"),
    ],
)
def test_three_months_are_counted_by_the_day_of_the_month(born, at, expected):
    """Red below 3 months: NICE NG143, the calendar month as parents count it."""
    assert stage(born, at) == expected
    assert stage(born, at, gestation_days=None) == expected


@pytest.mark.parametrize(
    ("gestation_days", "days", "expected"),
    [
        (238, 132.9, "young"),
        (238, 133, "middle"),
        (258, 112.9, "young"),
        (258, 113, "middle"),
        (259, 112.9, "middle"),
        (180, 190.9, "young"),
        (180, 191, "older"),
    ],
)
def test_born_preterm_the_three_months_count_from_when_it_was_due(gestation_days, days, expected):
    """53 weeks postmenstrual: Hadhud 2023 and Barak-Corren 2022, abstracts."""
    born = datetime(2026, 3, 2, 4, tzinfo=UTC)
    at = born + timedelta(days=days)
    found = stage_at(at, born, LIMITS, AGES, zone="UTC", gestation_days=gestation_days)
    assert found == expected


@pytest.mark.parametrize(
    ("site", "age_d", "doubtful"),
    [
        ("ear", 27.9, True),
        ("forehead", 0, True),
        ("ear", 28, False),
        ("axilla", 1, False),
        ("strip", 300, True),
        ("rectum", 1, False),
        (None, 1, False),
    ],
)
def test_below_four_weeks_ear_and_forehead_are_doubtful(site, age_d, doubtful):
    """NICE NG143, 1.1.2 and 1.1.3 (excerpt)."""
    assert is_doubtful_site(site, age_d, LIMITS) is doubtful
