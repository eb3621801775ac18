"""Messages in the words of a clinic: every gap filled, in its unit, in its language."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.knowledge.policy import Policy
from suffice.language.text import sentences_of, text_of
from suffice.message import (
    Age,
    Ago,
    Amount,
    Chance,
    Day,
    Instant,
    Listed,
    Message,
    Number,
    Param,
    message,
)

METRIC = Policy(zone="Europe/Madrid")
POUNDS = Policy(
    zone="America/Chicago", weight_unit="lb oz", volume_unit="fl oz", temperature_unit="F"
)
SPANISH = Policy(zone="Europe/Madrid", language="es")
CLINICS = (METRIC, POUNDS, SPANISH)
AT = datetime(2026, 11, 25, 8, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("gap", "metric", "pounds", "spanish"),
    [
        ("Cel g/d", "Cel g/d", "Cel g/d", "Cel g/d"),
        (3, "3", "3", "3"),
        (Amount(3280, "g"), "3280\u00a0g", "7\u00a0lb 3.7\u00a0oz", "3280\u00a0g"),
        (
            Amount(-62, "g", signed=True),
            "\u221262\u00a0g",
            "\u22122.2\u00a0oz",
            "\u221262\u00a0g",
        ),
        (Amount(62, "g", signed=True), "+62\u00a0g", "+2.2\u00a0oz", "+62\u00a0g"),
        (Amount(7.24, "g", decimals=1), "7.2\u00a0g", "0.3\u00a0oz", "7,2\u00a0g"),
        (Amount(38.4, "Cel"), "38.4\u00a0°C", "101.1\u00a0°F", "38,4\u00a0°C"),
        (Amount(20, "g/d"), "20 g/day", "20 g/day", "20 g/día"),
        (Amount(480, "mL/d"), "480 mL/day", "16.2 fl oz/day", "480 mL/día"),
        (Amount(10.2, "%"), "10.2 %", "10.2 %", "10,2 %"),
        (Number(0.25), "0.25", "0.25", "0,25"),
        (Number(-2, 1), "\u22122.0", "\u22122.0", "\u22122,0"),
        (Instant(AT), "Wed 25 Nov, 09:30", "Wed 25 Nov, 02:30", "mié 25 nov, 09:30"),
        (Day(date(2026, 11, 25)), "Wed 25 Nov", "Wed 25 Nov", "mié 25 nov"),
        (Age(30), "30 h", "30 h", "30 h"),
        (Age(24 * 30), "30 days", "30 days", "30 días"),
        (Ago(72), "3 days ago", "3 days ago", "hace 3 días"),
        (Chance(0.999), "> 99 %", "> 99 %", "> 99 %"),
        (Listed((1, 2, 3), "and"), "1, 2 and 3", "1, 2 and 3", "1, 2 y 3"),
        (Listed((message("naked"), "Ben"), "or"), "naked or Ben", "naked or Ben", "desnudo o Ben"),
        (message("naked"), "naked", "naked", "desnudo"),
    ],
)
def test_each_kind_of_gap_is_read_as_the_clinic_reads_it(
    gap: Param, metric: str, pounds: str, spanish: str
) -> None:
    said = [text_of(message("{gap}", gap=gap), clinic) for clinic in CLINICS]
    assert said == [metric, pounds, spanish]


def test_the_plural_is_that_of_the_language() -> None:
    words = message("{count} infant", plural="{count} infants")
    assert [text_of(words.with_params(count=n), SPANISH) for n in (1, 2)] == ["1 bebé", "2 bebés"]
    assert [text_of(words.with_params(count=n), METRIC) for n in (1, 0)] == [
        "1 infant",
        "0 infants",
    ]


def test_a_typed_text_in_a_gap_stands_as_it_is_in_every_language() -> None:
    for typed in ("naked", "weight", "and", "{weight}", "Wed"):
        assert text_of(message("{typed}", typed=typed), SPANISH) == typed


def test_sentences_begin_with_a_capital_and_empty_ones_are_left_out() -> None:
    parts = (message("naked"), "", message("clothed"))
    assert sentences_of(parts, METRIC) == "Naked Clothed"


def test_what_is_in_no_catalogue_stays_english_with_its_gaps_filled() -> None:
    words = message("nobody put {weight} into words", weight=Amount(3280, "g"))
    assert text_of(words, SPANISH) == "nobody put 3280\u00a0g into words"


NUMBERS = st.floats(min_value=-1e5, max_value=1e5, allow_nan=False)
UNITS = st.sampled_from(
    ("g", "mL", "mL/d", "Cel", "%", "g/d", "g/kg/d", "kcal/d", "mL/kg/d", "d", "h", "cm", "1")
)
AMOUNTS = st.builds(
    Amount, NUMBERS, UNITS, decimals=st.none() | st.integers(0, 3), signed=st.booleans()
)
SIMPLE = st.one_of(
    AMOUNTS,
    st.builds(Number, NUMBERS, decimals=st.none() | st.integers(0, 3)),
    st.builds(Age, st.floats(0, 20_000)),
    st.builds(Ago, st.floats(0, 20_000)),
    st.builds(Chance, st.floats(0, 1)),
    st.builds(Instant, st.datetimes(timezones=st.just(UTC)).filter(lambda at: 1 < at.year < 9999)),
    st.integers(-1000, 1000),
)
GAPS = st.recursive(
    SIMPLE,
    lambda inner: st.one_of(
        st.builds(Listed, st.lists(inner, min_size=1, max_size=3).map(tuple), st.just("and")),
        st.builds(lambda gap: message("<{gap}>", gap=gap), inner),
    ),
    max_leaves=5,
)
LEAKS = ("{", "}", "Cel", "/d ", "Amount(", "Message(", "None", "nan")


@given(st.dictionaries(st.sampled_from("abcd"), GAPS, min_size=1), st.sampled_from(CLINICS))
def test_every_gap_is_filled_and_no_stored_unit_leaks(
    gaps: dict[str, Param], clinic: Policy
) -> None:
    words = Message(
        template=" | ".join(f"{{{name}}} " for name in gaps), params=tuple(gaps.items())
    )
    said = text_of(words, clinic)
    assert not [leak for leak in LEAKS if leak in said], said
    assert said.count("|") == len(gaps) - 1
    assert all(part.strip() for part in said.split("|"))


@given(AMOUNTS)
def test_a_clinic_that_reads_pounds_never_sees_grams_or_litres(gap: Amount) -> None:
    said = text_of(message("{gap}", gap=gap), POUNDS)
    if gap.unit == "g":
        assert said.endswith("oz")
    if gap.unit in {"mL", "mL/d"}:
        assert "fl oz" in said
    if gap.unit == "Cel":
        assert said.endswith("°F")
