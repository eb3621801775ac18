import pytest

from clinical_constants import constant
from spoken import in_sentences, text
from suffice.clinical.temperature import TemperatureLimits, judge_temperature

LIMITS = TemperatureLimits(
    fever_c=constant(38.0, "Cel"),
    repeat_c=constant(37.5, "Cel"),
    cool_c=constant(36.5, "Cel"),
    low_c=constant(35.5, "Cel"),
    fever_until_age_d=constant(91, "d"),
    high_fever_c=constant(39.0, "Cel"),
    high_fever_until_age_d=constant(183, "d"),
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
    found = judge_temperature(38.2, LIMITS, age_d=120, site="axilla")
    assert found.verdict == "fever"
    assert any("91 days" in text(note) for note in found.working.notes)


@pytest.mark.parametrize(
    ("temperature", "age_d", "limit", "is_beyond"),
    [
        (39.0, 90.9, 38.0, False),
        (39.0, 91, 39.0, False),
        (38.9, 91, 38.0, True),
        (39.0, 182.9, 39.0, False),
        (39.0, 183, 38.0, True),
    ],
)
def test_from_three_to_six_months_the_higher_limit_judges(temperature, age_d, limit, is_beyond):
    """39 °C at 3 to 6 months: NICE NG143, amber column, as quoted in summaries."""
    found = judge_temperature(temperature, LIMITS, age_d=age_d, site="axilla")
    assert found.verdict == "fever"
    assert found.working.constants[0].value == limit
    assert bool(found.working.notes) is is_beyond
