"""What a letter to a physician says of the plan that holds: what is given, and one day to weigh."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from paper_source import NOW
from planned import SOME, source_of
from spec.papers_of import text_in
from suffice.assess.act import SEEN_AND_AGAIN
from suffice.assess.results import Finding, Tier, WeighAgain
from suffice.clinical.entry import Plan
from suffice.documents.frame import Source
from suffice.documents.letter import letter
from suffice.message import Day, Message, message


def letter_of(source: Source) -> list[str]:
    text = text_in(letter(source, source.assessment.infants[-1].infant_id, None))
    return text.replace("\N{NO-BREAK SPACE}", " ").split("\n")


def test_a_letter_says_what_the_family_gives_by_the_plan() -> None:
    plan = msgspec.structs.replace(SOME, milk="own then formula", sessions_count=6)
    lines = letter_of(source_of(plan))
    assert any(one.startswith("By the plan: 225 mL of extra milk in 24 h.") for one in lines)
    assert "Sessions of expressing by the plan: 6 in 24 h." in lines
    away = msgspec.structs.replace(plan, at_breast="not now")
    assert any(
        "225 mL of milk in 24 h, all of it given." in one for one in letter_of(source_of(away))
    )
    assert not any("By the plan" in one for one in letter_of(source_of(Plan(move="first"))))


def test_a_letter_says_that_a_supplement_could_not_be_made_less() -> None:
    source = source_of(SOME)
    last = next(one for one in source.entries if one.fact == SOME)
    held = [
        msgspec.structs.replace(
            last,
            fact=msgspec.structs.replace(SOME, move=move),
            true_at=last.true_at + timedelta(days=days),
        )
        for days, move in ((3, "hold"), (6, "back"))
    ]
    *others, infant = source.assessment.infants
    calm = msgspec.structs.replace(
        source.assessment, infants=(*others, msgspec.structs.replace(infant, findings=()))
    )
    source = msgspec.structs.replace(source, assessment=calm)
    said = letter_of(msgspec.structs.replace(source, entries=(*source.entries, *held)))
    asks = "Please see Ezra and advise: in the last 2 plans the supplement could not be made less."
    assert said[0] == asks, "it opened with 'For information'"
    assert sum("could not be made less" in one for one in said) == 1
    one_held = letter_of(msgspec.structs.replace(source, entries=(*source.entries, held[0])))
    assert not any("could not be made less" in one for one in one_held)
    assert one_held[0].startswith("For information:")


def test_a_letter_names_one_day_to_weigh_and_one_contact() -> None:
    """It said 'No next contact is planned' and 'We see the family next' in two lines, and two days to weigh."""
    plan = msgspec.structs.replace(
        SOME, weigh_at=NOW + timedelta(days=2), contact_at=NOW + timedelta(days=2)
    )
    source = source_of(plan)
    *others, infant = source.assessment.infants
    advice = (message("No next contact is planned."),)
    again = WeighAgain(
        by="engine", on=None, advice=advice, reason="", briefly="Weigh again on Fri."
    )
    assert infant.verdict is not None
    act = msgspec.structs.replace(infant.verdict.act, tier=Tier.TODAY)
    verdict = msgspec.structs.replace(infant.verdict, then=advice[0], act=act)
    told = msgspec.structs.replace(infant, findings=(), weigh_again=again, verdict=verdict)
    lines = letter_of(
        msgspec.structs.replace(
            source, assessment=msgspec.structs.replace(source.assessment, infants=(*others, told))
        )
    )
    assert "By the plan: weigh on Mon 30 Nov, 10:00." in lines
    assert "No next contact is planned." not in lines
    assert sum("eigh" in one and "Nov" in one for one in lines) == 1


def test_a_letter_names_the_plans_day_to_weigh_beside_a_handover_too() -> None:
    plan = msgspec.structs.replace(SOME, weigh_at=NOW + timedelta(days=2))
    source = source_of(plan)
    *others, infant = source.assessment.infants
    assert infant.verdict is not None
    act = msgspec.structs.replace(infant.verdict.act, tier=Tier.HANDED_OVER)

    def lines(then: Message) -> list[str]:
        verdict = msgspec.structs.replace(infant.verdict, then=then, act=act)
        told = msgspec.structs.replace(infant, findings=(), weigh_again=None, verdict=verdict)
        assessment = msgspec.structs.replace(source.assessment, infants=(*others, told))
        return letter_of(msgspec.structs.replace(source, assessment=assessment))

    again = SEEN_AND_AGAIN.with_params(day=Day(NOW.date() + timedelta(days=5)))
    assert "By the plan: weigh on Mon 30 Nov, 10:00." in lines(again)
    assert not any(one.startswith("Weigh when seen") for one in lines(again))
    beside = message("Meanwhile: count wets.")
    assert "Meanwhile: count wets." in lines(beside)


@pytest.mark.parametrize(
    ("days", "has_own_time", "says"),
    [
        ((3,), True, "Please advise on Ezra by Tue 1 Dec: slow months."),
        ((3, 4), True, "Please advise on Ezra by Tue 1 Dec: slow months."),
        ((3,), False, "Please advise on Ezra within a day, by Sun 29 Nov: slow months."),
        ((3, 0), True, "Please advise on Ezra within a day, by Sun 29 Nov: slow months."),
    ],
)
def test_a_letter_asks_by_the_day_that_its_flags_give(
    days: tuple[int, ...], has_own_time: bool, says: str
) -> None:
    """'Within a day' stood above 'For: consultant, within 3 days', in a letter to a physician."""
    source = source_of(SOME)
    *others, infant = source.assessment.infants
    findings = tuple(
        Finding(
            code=f"slow-{number}", level="consultant", colour="amber", topic="gain", name="slow months",
            messages=("Gaining little.",), to_whom="consultant, within 3 days",
            due_at=NOW + timedelta(days=one), has_own_time=has_own_time,
        )
        for number, one in enumerate(days)
    )  # fmt: skip
    told = msgspec.structs.replace(infant, findings=findings)
    assessment = msgspec.structs.replace(source.assessment, infants=(*others, told))
    lines = letter_of(msgspec.structs.replace(source, assessment=assessment))
    assert lines[0] == says
    assert not any(one.startswith("For:") for one in lines)
