"""The provenance of a constant as a page says it."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest
from django.utils import translation

from suffice.clinical.working import Constant, Figure, SourceBasis, Working
from suffice.knowledge.assembly import COMMON_PRACTICE, FROM_MEMORY
from suffice.knowledge.policy import Policy
from suffice.web.shown.wording import Wording
from suffice.web.shown.working import ConstantShown, figure_shown, working_shown

TERM = Constant(key="age.term_days", value=280, unit="d", basis="published", source="Someone 2001")


def shown(constant: Constant, policy: Policy | None = None) -> ConstantShown:
    working = Working(formula="a", inputs=(), constants=(constant,))
    return working_shown(working, Wording(policy=policy or Policy())).constants[0]


def cited(basis: SourceBasis, source: str, locator: str = "") -> Constant:
    return msgspec.structs.replace(TERM, basis=basis, source=source, locator=locator)


@pytest.mark.parametrize(
    ("basis", "source", "locator", "said"),
    [
        ("published", "Someone 2001", "table 2", ("published", "Someone 2001, table 2")),
        ("published", "Someone 2001", "", ("published", "Someone 2001")),
        ("common practice", COMMON_PRACTICE, "", ("common practice, no source", "")),
        ("from memory, to verify", FROM_MEMORY, "", ("from memory, to verify", "")),
        (
            "from memory, to verify",
            f"Someone 2001 ({FROM_MEMORY})",
            "p. 4",
            ("from memory, to verify", "Someone 2001, p. 4"),
        ),
        ("derived", "derived: a sum, from a.b", "", ("derived", "a sum, from a.b")),
        ("judgement", "judgement of us", "", ("judgement", "us")),
    ],
)
def test_a_basis_is_said_once(
    basis: SourceBasis, source: str, locator: str, said: tuple[str, str]
) -> None:
    found = shown(cited(basis, source, locator))
    assert (found.basis, found.source) == said


def test_no_english_basis_stands_beside_the_spanish_one() -> None:
    with translation.override("es"):
        assert shown(cited("from memory, to verify", FROM_MEMORY)).source == ""
        assert (
            shown(cited("common practice", COMMON_PRACTICE)).basis
            == "práctica habitual, sin fuente"
        )


def test_how_far_a_source_was_read_is_said_in_the_language_of_the_page() -> None:
    seen = msgspec.structs.replace(TERM, read="abstract")
    assert shown(seen).seen == "read: abstract"
    with translation.override("es"):
        assert "resumen" in shown(seen, Policy(language="es")).seen


def test_the_day_of_a_judgement_stands_in_the_clinics_order() -> None:
    judged = msgspec.structs.replace(TERM, basis="judgement", judged_on=date(2026, 11, 5))
    assert shown(judged, Policy(date_order="month first")).seen == "Thu Nov 5, 2026"
    assert shown(judged, Policy(date_order="year first")).seen == "Thu 2026 Nov 5"
    assert shown(TERM).seen == ""


@pytest.mark.parametrize(
    ("key", "figure", "number", "interval"),
    [
        ("regain_h", (216.0, 192.0, 240.0, "h"), "9 days", "8 days to 10 days"),
        ("nadir_h", (60.0, 0.0, 144.0, "h"), "60 h", "0 h to 6 days"),
        ("corrected_age_d", (-29.0, None, None, "d"), "−29", ""),
        ("corrected_age_d", (10.6, None, None, "d"), "10 days", ""),
        ("corrected_age_d", (59.0, None, None, "d"), "8 weeks 3 days", ""),
    ],
)
def test_an_age_and_its_interval_are_said_as_ages_are(
    key: str, figure: tuple[float, float | None, float | None, str], number: str, interval: str
) -> None:
    value, low, high, unit = figure
    found = figure_shown(
        key,
        Figure(value=value, unit=unit, low=low, high=high, working=Working(formula="a")),
        Wording(policy=Policy()),
    )
    assert found.text is not None
    assert (found.text.number, found.interval) == (number, interval)
