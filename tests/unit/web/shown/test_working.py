"""The provenance of a constant as a page says it."""

from __future__ import annotations

import pytest
from django.utils import translation

from suffice.clinical.working import Constant, SourceBasis, Working
from suffice.knowledge.assembly import COMMON_PRACTICE, FROM_MEMORY
from suffice.knowledge.policy import Policy
from suffice.web.shown.wording import Wording
from suffice.web.shown.working import ConstantShown, working_shown


def shown(basis: SourceBasis, source: str, locator: str = "") -> ConstantShown:
    constant = Constant(
        key="age.term_days", value=280, unit="d", basis=basis, source=source, locator=locator
    )
    working = Working(formula="a", inputs=(), constants=(constant,))
    return working_shown(working, Wording(policy=Policy())).constants[0]


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
        ("judgement", "judgement of us, 2026-01-02", "", ("judgement", "us, 2026-01-02")),
    ],
)
def test_a_basis_is_said_once(
    basis: SourceBasis, source: str, locator: str, said: tuple[str, str]
) -> None:
    found = shown(basis, source, locator)
    assert (found.basis, found.source) == said


def test_no_english_basis_stands_beside_the_spanish_one() -> None:
    with translation.override("es"):
        assert shown("from memory, to verify", FROM_MEMORY).source == ""
        assert shown("common practice", COMMON_PRACTICE).basis == "práctica habitual, sin fuente"
