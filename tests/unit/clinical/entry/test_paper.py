"""Papers that were signed or given: final where signed, named by kind and language where given."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

import msgspec
import pytest

from suffice.clinical.entry import AnyFact, Basis, Entry, Withdrawal
from suffice.clinical.entry.paper import Amendment, Origin, PaperGiven, SignedNote
from suffice.clinical.structure import replacement_problem
from suffice.knowledge.policy import Policy
from suffice.language.facts import parts_of
from suffice.language.text import text_of

AT = datetime(2026, 11, 28, 10, tzinfo=UTC)
ORIGIN = Origin(
    as_of=AT,
    language="es",
    size="A4",
    content_version="2026.11.9",
    engine_version="",
    policy_count=1,
    template_version="2",
    digest="a" * 64,
    file_digest="b" * 64,
    sheet="latch",
)


def an_entry(fact: AnyFact, replaces: Entry | None = None) -> Entry:
    return Entry(
        id=uuid4(),
        fact=fact,
        basis=Basis.OBSERVED,
        true_at=AT,
        entered_at=AT,
        entered_by="consultant",
        replaces=None if replaces is None else replaces.id,
    )


@pytest.mark.parametrize("fact", [SignedNote(), Amendment(text="More.")])
@pytest.mark.parametrize("by", ["correction", "withdrawal"])
def test_nothing_takes_the_place_of_what_was_signed(fact: AnyFact, by: str) -> None:
    old = an_entry(fact)
    new = an_entry(fact if by == "correction" else Withdrawal(reason="wrong"), old)
    problem = replacement_problem(new, old)
    assert problem is not None
    assert problem.code == "RECORD-013"


def test_a_paper_that_was_put_down_by_mistake_can_be_withdrawn() -> None:
    old = an_entry(PaperGiven(paper="plan"))
    assert replacement_problem(an_entry(Withdrawal(reason="not given"), old), old) is None


def test_the_line_of_a_paper_says_which_and_in_what_language() -> None:
    fact = PaperGiven(paper="sheet", title="Bring your baby deep", language="es", origin=ORIGIN)
    said = ", ".join(text_of(one, Policy()) for one in parts_of(fact))
    assert said == "teaching sheet, “Bring your baby deep”, Spanish"


def test_from_what_it_was_made_survives_the_record() -> None:
    fact = SignedNote(contact_id=uuid4(), origin=ORIGIN, words="eJw=", rests_on=(uuid4(),))
    assert msgspec.json.decode(msgspec.json.encode(fact), type=SignedNote) == fact
