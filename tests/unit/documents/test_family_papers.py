"""What a family is given: what to do first, in words a twelve-year-old reads, with every number to call."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

import msgspec
import pytest

from paper_source import (
    NOW,
    SIZES,
    VISIT,
    folder,
    folder_of_record,
    fonts_home,
    records,
    renamed,
    visited,
)
from pdf_reader import Seen, see
from reading_level import level_of
from suffice.clinical.entry import Birth, Plan, Sign
from suffice.clinical.entry.position import POSITION, Position
from suffice.documents.folder import Folder, Offer, PaperKind
from suffice.documents.page import pdf_of
from suffice.documents.teaching_sheet import teaching_sheet

NB = "\N{NO-BREAK SPACE}"
KEY = "twin-trouble"
PHONES = {
    "phone_day": "555-0100",
    "phone_night": "555-0199",
    "emergency_number": "112",
    "crisis_number": "555-0177",
}
PLAN = Plan(
    move="first",
    goal="only the breast",
    feeds_count=8,
    gap_day_h=3,
    gap_night_h=4,
    at_breast="every feed",
    sides="both sides",
    breast_minutes=30,
    each_feed="Lay her on your chest.\nSqueeze the breast when she pauses.",
    supplement_ml_per_day=240,
    supplement_feeds_count=8,
    supplement_ml=30,
    supplement_most_ml=45,
    milk="own, donor, formula",
    method="cup",
    express_for="build",
    sessions_count=8,
    session_minutes=15,
    session_sides="together",
    weigh_at=NOW + timedelta(days=2),
    contact_at=NOW + timedelta(days=1),
    ends_at=NOW + timedelta(days=3),
)


def planned(plan: Plan = PLAN, key: str = KEY, **settings: Any) -> Folder:
    record = records()[key]
    made = visited(record, (plan, record.infants[-1].id))
    return folder_of_record(made, visit=VISIT, **(PHONES | settings))


def read(made: Folder, kind: PaperKind, whose: UUID | None = None) -> Seen:
    infant = whose or made.record.infants[-1].id
    paper = made.paper(Offer(kind=kind, whose=infant))
    seen = see(pdf_of(paper, fonts_home()), language=made.source.policy.language)
    assert seen.faults == ()
    assert seen.pages == 1
    return seen


def lines(seen: Seen) -> list[str]:
    return [t.text for t in seen.tags if t.kind in {"H1", "H2", "P", "TR", "LBody"}]


HELP = [
    "Call now: 112",
    "Your baby is limp, blue or gray, fights for breath, has a fit, throws up green, or will not wake.",
    f"Your baby has a fever of 38.0{NB}°C or more, or is colder than 35.5{NB}°C.",
    "You bleed a lot, faint, have a bad headache or chest pain, or cannot breathe well.",
    "You think of hurting yourself or your baby. Crisis line: 555-0177.",
    "Call us or a doctor now: 555-0100. At night: 555-0199.",
    (
        f"No wet diaper in a whole day. You have a fever of 38.0{NB}°C or more."
        f" Yellow skin: a test within 6{NB}hours."
    ),
    "See a doctor today",
    "Your baby is hard to wake for feeds. Blood in a diaper. A white or gray stool. A red, hot breast.",
    "Call us today: 555-0100. At night: 555-0199.",
    f"Fewer than 8{NB}feeds in 24{NB}hours, or feeds that never seem to end.",
    "Fewer wet or dirty diapers than you read here. Pink stains after day 3.",
]

GOLDEN_PLAN = [
    "A doctor must see Perpetua today. Call us now: 555-0100. At night: 555-0199.",
    f"Breast first. Then 30{NB}mL of milk. Then express. Then rest.",
    (
        f"Feed at least 8{NB}times in 24{NB}hours. Start a feed at least every 3{NB}hours."
        f" At night at least every 4{NB}hours."
    ),
    "Call now if your baby will not wake or fights for breath: 112.",
    "Your goal: “only the breast”",
    "At each feed",
    "Offer both sides.",
    f"Stop at the breast after 30{NB}min.",
    "Lay her on your chest.",
    "Squeeze the breast when she pauses.",
    f"Give 30{NB}mL of milk by cup.",
    f"Give up to 45{NB}mL if your baby asks for more.",
    "Which milk: own expressed milk, then donor milk, then formula.",
    f"Express by pump or hand: 15{NB}min, both sides at the same time.",
    f"Each day: about 9{NB}h 50{NB}min in all",
    f"Extra milk: 240{NB}mL in 24{NB}hours, at 8{NB}feeds.",
    f"Express 8{NB}times in 24{NB}hours.",
    f"It works if you see this by Sun 29{NB}Nov, 10:00",
    f"At least 6{NB}wet diapers in 24{NB}hours.",
    f"At least 2{NB}dirty diapers, yellow.",
    "You hear your baby swallow.",
    f"We weigh your baby on Mon 30{NB}Nov, 10:00.",
    *HELP,
    (
        f"We see you next on Sun 29{NB}Nov, 10:00. Ask for Mara Lindgren."
        f" This plan ends on Tue 1{NB}Dec, 10:00. Then we look again."
    ),
]


@pytest.mark.parametrize("size", SIZES)
def test_a_plan_word_by_word_on_both_sheets(size: str) -> None:
    assert lines(read(planned(size=size), "plan")) == GOLDEN_PLAN


def test_what_a_plan_leaves_open_is_left_out() -> None:
    bare = read(
        planned(Plan(move="settle", at_breast="every feed", supplement_ml_per_day=0)), "plan"
    )
    assert bare.of("H1") == ["Breast first. No extra milk now. Then rest."]
    assert "Express" not in bare.text
    assert "At each feed" not in bare.text
    assert "mL" not in bare.text


def test_a_plan_without_the_breast_never_sends_to_the_breast() -> None:
    plan = msgspec.structs.replace(PLAN, at_breast="not now", each_feed=None)
    seen = read(planned(plan), "plan")
    assert seen.of("H1")[0].startswith(f"Give 30{NB}mL of milk.")
    assert "Offer both sides." not in seen.of("LBody")
    assert not any("at the breast" in line for line in seen.of("LBody"))


def test_milk_through_a_tube_comes_with_the_breast_not_after_it() -> None:
    seen = read(planned(msgspec.structs.replace(PLAN, method="tube")), "plan")
    assert seen.of("H1")[0].startswith(f"Breast, with 30{NB}mL of milk through the tube. Then")
    assert f"Give 30{NB}mL of milk by tube at the breast." in seen.of("LBody")


@pytest.mark.parametrize(
    ("plan", "first", "says", "never"),
    [
        (
            Plan(move="first", at_breast="some feeds", express_for="wean", feeds_count=5),
            f"Every 3{NB}days leave out one feed at the breast. Slower is fine.",
            f"In place of that feed: formula. From 12{NB}months on: cow's milk.",
            "Breast first.",
        ),
        (
            Plan(move="first", at_breast="not now", express_for="wean", sessions_count=4),
            "Give milk as we agreed. Then rest.",
            f"Every 3{NB}days express one time less. Slower is fine.",
            "leave out one feed",
        ),
        (
            Plan(move="first", at_breast="every feed", express_for="relieve"),
            "Breast first. Then rest.",
            "A breast too full? Press out a little by hand, until it feels better.",
            "Express",
        ),
        (
            Plan(
                move="first", at_breast="every feed", sides="right only", express_for="keep",
                sessions_count=6, session_minutes=15, session_sides="left",
            ),
            "Breast first. Then rest.",
            "Ask us before you give the milk of that side.",
            "both sides",
        ),
    ],
)  # fmt: skip
def test_stopping_a_full_breast_and_a_side_left_out_are_on_the_page(
    plan: Plan, first: str, says: str, never: str
) -> None:
    seen = read(planned(plan), "plan")
    assert seen.of("H1") == [first]
    assert says in seen.of("LBody")
    assert never not in seen.text


def test_all_milk_of_a_day_is_not_called_extra() -> None:
    away = msgspec.structs.replace(PLAN, at_breast="not now")
    assert f"Milk: 240{NB}mL in 24{NB}hours, at 8{NB}feeds." in read(planned(away), "plan").of(
        "LBody"
    )
    extra = read(planned(), "plan").of("LBody")
    assert f"Extra milk: 240{NB}mL in 24{NB}hours, at 8{NB}feeds." in extra


def test_fewer_sessions_than_feeds_are_not_asked_at_each_feed() -> None:
    plan = msgspec.structs.replace(PLAN, sessions_count=5)
    seen = read(planned(plan), "plan")
    assert "express" not in seen.of("H1")[0]
    said = lines(seen)
    title = next(one for one in said if one.startswith("Each day"))
    assert said.index(title) < said.index(
        f"Express by pump or hand: 15{NB}min, both sides at the same time."
    )


def test_the_last_plan_holds() -> None:
    record = records()[KEY]
    infant = record.infants[-1].id
    later = msgspec.structs.replace(PLAN, supplement_ml=20)
    made = folder_of_record(visited(record, (PLAN, infant), (later, infant)), visit=VISIT)
    assert f"20{NB}mL" in read(made, "plan").of("H1")[0]


GOLDEN_DAYS = [
    "A doctor must see Leif today. Call us now: 555-0100. At night: 555-0199.",
    "Day 4: count the feeds and diapers of Leif",
    f"Today at least 3{NB}wet and 2{NB}dirty diapers, and 8{NB}feeds in 24{NB}hours.",
    "Fewer? Call us today: 555-0100.",
    "DayWet diapersDirty diapersColor of the dirty ones",
    f"Today, day 4, from Sat 28{NB}Nov, 08:00At least 3At least 2Green or brown",
    f"Day 5, from Sun 29{NB}Nov, 08:00At least 5At least 2Yellow",
    f"Day 6, from Mon 30{NB}Nov, 08:00At least 5At least 2Yellow",
    f"Day 7, from Tue 1{NB}Dec, 08:00At least 6At least 2Yellow",
    "One feed of extra milk, if your baby needs it",
    f"Today: 30{NB}to 60{NB}mL (least dashed)",
    "What a newborn's stomach holds",
    (
        "You may have seen other sizes in pictures. Nobody measured those. A stomach gives as it fills: go by"
        " your baby's signs."
    ),
    f"Often taught (dotted): 22{NB}to 27{NB}mL",
    f"Measured at birth: about 20{NB}mL",
    f"This bar is 5{NB}cm long if printed at full size.",
    (
        "Feeds: Academy of Breastfeeding Medicine (Kellams et al) 2017, Breastfeed Med 12:188. Stomach as"
        " measured: Bergman 2013, Acta Paediatr 102:773. As taught: common practice, no source."
    ),
    "Good to know",
    "Feed at the first signs: your baby stirs, opens the mouth, turns the head.",
    "Wake a baby who sleeps past a feed. Skin on skin helps.",
    "Diapers help you see. Only a scale shows if your baby grows.",
    *HELP,
]


@pytest.mark.parametrize("size", SIZES)
def test_the_days_word_by_word_on_both_sheets(size: str) -> None:
    made = folder("ward-loss", size=size, **PHONES)  # type: ignore[arg-type]
    assert lines(read(made, "days")) == GOLDEN_DAYS


def test_where_a_plan_says_the_amounts_the_days_say_none() -> None:
    seen = read(planned(key="ward-loss"), "days")
    assert "mL" not in seen.text
    assert len(seen.of("TH")) == 4


def test_the_days_follow_the_norm_that_the_clinic_chose() -> None:
    taught = {"wets_norm": "output_taught.wets_count_per_day"}
    made = folder("ward-loss", choices=taught)
    content = made.source.policy.content_in_force(made.source.content)
    source = msgspec.structs.replace(made.source, content=content)
    said = lines(read(msgspec.structs.replace(made, source=source), "days"))
    assert said[2].startswith(f"Today at least 4{NB}wet")


def test_where_something_is_flagged_nothing_says_that_all_is_usual() -> None:
    calm, flagged = folder("first-day"), folder("ward-loss")
    assert any("Most babies lose" in line for line in lines(read(calm, "days")))
    assert not any("Most babies" in line for line in lines(read(flagged, "days")))
    assert not any("Some babies" in line for line in lines(read(flagged, "days")))


@pytest.mark.parametrize(
    ("key", "first"),
    [
        ("cold", "Go to the hospital now with Amaru. Call 112."),
        ("few-wets", "A doctor must see Malachy today. Call us now: 555-0100. At night: 555-0199."),
    ],
)
def test_what_is_red_today_stands_before_all_else(key: str, first: str) -> None:
    said = lines(read(folder(key, **PHONES), "days"))
    assert said[0] == first
    if key == "few-wets":
        assert said[1] == "You need a doctor today. Call us now: 555-0100. At night: 555-0199."


def test_an_emergency_of_the_parent_is_not_a_doctor_today() -> None:
    said = lines(read(folder("parent-emergency", **PHONES), "days"))
    assert said[0] == "Get help for yourself now. Call 112."


def test_a_number_for_the_night_that_is_missing_is_asked_for_once() -> None:
    said = lines(read(folder("few-wets", **(PHONES | {"phone_night": ""})), "days"))
    assert said[0] == "A doctor must see Malachy today. Call us now: 555-0100."


def in_force(made: Folder) -> list[str]:
    """The lines of the days where the clinic's own values and choices count."""
    content = made.source.policy.content_in_force(made.source.content)
    source = msgspec.structs.replace(made.source, content=content)
    return lines(read(msgspec.structs.replace(made, source=source), "days"))


def test_a_fever_of_the_parent_is_told_by_the_limit_of_its_flag() -> None:
    said = in_force(folder("ward-loss", constants={"temperature.fever_c": 37.5}))
    assert any(f"fever of 37.5{NB}°C or more, or is colder" in line for line in said)
    assert any(f"You have a fever of 38.0{NB}°C or more." in line for line in said)


def test_an_emergency_of_the_infant_is_told_by_the_limits_that_the_clinic_chose() -> None:
    older = {"fever_limit": "temperature.repeat_c", "low_temperature_limit": "temperature.cool_c"}
    said = in_force(folder("ward-loss", choices=older))
    told = f"Your baby has a fever of 37.5{NB}°C or more, or is colder than 36.5{NB}°C."
    assert told in said
    assert any(f"You have a fever of 38.0{NB}°C or more" in line for line in said)


def test_pink_stains_are_usual_on_the_first_days_only() -> None:
    young = lines(read(folder("first-day"), "days"))
    assert f"Pink stains can show on the first 3{NB}days." in young
    assert not any("Pink stains can" in line for line in lines(read(folder("ward-loss"), "days")))


def test_numbers_that_the_clinic_never_entered_are_asked_for() -> None:
    said = read(folder("ward-loss"), "days").text
    assert said.count("ask the clinic to fill in: ______") >= 4


def test_who_is_offered_which_paper() -> None:
    offered = [(one.kind, one.whose) for one in planned().offers()]
    first, second = (one.id for one in records()[KEY].infants)
    assert ("plan", second) in offered
    assert ("plan", first) not in offered
    assert ("days", first) in offered
    old = [one.kind for one in folder("thriving").offers()]
    assert "days" not in old
    record = records()["first-day"]
    entries = tuple(one for one in record.entries if not isinstance(one.fact, Birth))
    unknown = folder_of_record(msgspec.structs.replace(record, entries=entries))
    assert "days" not in [one.kind for one in unknown.offers()]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(
    ("kind", "key"), [("plan", KEY), ("days", "ward-loss"), ("days", "first-day")]
)
def test_a_family_paper_is_read_at_the_age_of_twelve(
    kind: PaperKind, key: str, language: str
) -> None:
    """English: grade 6 and no sentence over 20 words; Spanish: 65 of Szigriszt-Pazos."""
    plan = msgspec.structs.replace(PLAN, each_feed=None, goal=None)
    made = planned(plan, language=language) if kind == "plan" else folder(key, language=language)
    seen = read(made, kind)
    blocks = [t.text for t in seen.tags if t.kind in {"H1", "H2", "P", "LBody", "TH", "TD"}]
    found = level_of(blocks, language)
    assert found.words > 100
    assert found.longest <= 20
    if language == "es":
        assert "Llame ya:" in seen.text, "it is not in Spanish yet"
        assert found.perspicuity >= 65
    else:
        assert found.grade <= 6


@pytest.mark.parametrize("name", ["سلمى بنت أحمد", "x" * 60, '*x* #panic("y")'])
def test_any_name_stands_on_a_family_paper(name: str) -> None:
    record = renamed(records()["ward-loss"], name)
    seen = read(folder_of_record(record), "days")
    shown = name[::-1] if name[0] > "z" else name
    assert "".join(shown.split()) in "".join(seen.of("H1")[0].split())


def test_while_no_milk_may_be_given_the_page_of_a_plan_has_no_feed() -> None:
    record = records()[KEY]
    infant = record.infants[-1].id
    sign = Sign(sign="vomit_green", present=True)
    made = folder_of_record(visited(record, (PLAN, infant), (sign, infant)), visit=VISIT, **PHONES)
    said = lines(read(made, "plan"))
    assert said[:4] == [
        "Go to the hospital now with Perpetua. Call 112.",
        "Give Perpetua no milk until a doctor says so.",
        "Each day",
        f"Express 8{NB}times in 24{NB}hours.",
    ]
    # No feed is asked for, and no diaper is counted on the page.
    fewer = "Fewer wet or dirty diapers than before. Pink stains after day 3."
    assert said[4:-1] == [
        fewer if one.startswith("Fewer wet") else one
        for one in HELP
        if not one.startswith("Fewer than")
    ]
    assert ("days", infant) not in [(one.kind, one.whose) for one in made.offers()]
    assert [one.sheet for one in made.offers() if one.kind == "sheet"] == ["no_milk_yet"]


def test_the_days_ask_for_as_many_feeds_as_the_plan() -> None:
    plan = msgspec.structs.replace(PLAN, feeds_count=10)
    said = lines(read(planned(plan, key="ward-loss"), "days"))
    assert f"and 10{NB}feeds in 24{NB}hours." in " ".join(said)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("position", [one for one, _ in POSITION.choices])
def test_a_position_of_the_plan_is_a_step_with_its_drawing_on_one_page(
    position: Position, language: str
) -> None:
    plan = msgspec.structs.replace(PLAN, position=position)
    seen = read(planned(plan, language=language), "plan")
    assert seen.pages == 1
    assert len(seen.of("Figure")) == 1
    without = lines(read(planned(language=language), "plan"))
    assert len(lines(seen)) == len(without) + 1


def test_away_from_the_breast_a_plan_has_no_position() -> None:
    plan = msgspec.structs.replace(PLAN, position="cradle", at_breast="not now", sides=None)
    seen = read(planned(plan), "plan")
    assert not seen.of("Figure")
    assert "Cradle" not in seen.text


@pytest.mark.parametrize(
    ("age_d", "at_once", "today", "us"),
    [
        (20, f"Your baby has a fever of 38.0{NB}°C or more, or is colder than 35.5{NB}°C.", "", ""),
        (
            100,
            f"Your baby is colder than 35.5{NB}°C.",
            f"Your baby has a fever of 39.0{NB}°C or more, or any fever for 5{NB}days.",
            f"Your baby has any other fever of 38.0{NB}°C or more.",
        ),
        (
            200,
            f"Your baby is colder than 35.5{NB}°C.",
            f"Your baby has a fever of 40.0{NB}°C or more, or any fever for 5{NB}days.",
            f"Your baby has any other fever of 38.0{NB}°C or more.",
        ),
    ],
)
def test_a_fever_of_the_infant_is_told_by_its_age(
    age_d: int, at_once: str, today: str, us: str
) -> None:
    """Below three months, from three and from six: the limits of the flags, and no louder."""
    made = folder("thriving", **PHONES)
    born = NOW - timedelta(days=age_d)
    infants = tuple(
        msgspec.structs.replace(one, born_at=born, age_days=age_d)
        for one in made.source.assessment.infants
    )
    assessment = msgspec.structs.replace(made.source.assessment, infants=infants)
    source = msgspec.structs.replace(made.source, assessment=assessment)
    paper = teaching_sheet(source, "engorgement")
    said = lines(see(pdf_of(paper, fonts_home()), language="en"))
    places = [said.index(one) for one in ("Call now: 112", "See a doctor today")]
    ours = next(place for place, one in enumerate(said) if one.startswith("Call us today"))
    assert at_once in said[places[0] :]
    assert said.index(at_once) < places[1]
    for one, begins in ((today, places[1]), (us, ours)):
        assert not one or said.index(one) > begins
    assert any("fever of 39" in one or "fever of 40" in one for one in said) == bool(today)
    few = [one for one in said if "feeds that never seem" in one]
    assert few[0].startswith("Fewer than 8" if age_d < 28 else "Far fewer feeds")
