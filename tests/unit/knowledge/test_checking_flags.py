"""Every way in which a row of the table of flags can be wrong is found, and says which row and why."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

import content_folder
from suffice.errors import ContentError
from suffice.knowledge.checking_flags import CHOSEN, check_flags
from suffice.knowledge.reading import Faults, Written, read
from suffice.knowledge.schema import Citation, Clears, Condition, Flag
from suffice.knowledge.store import load_folder

FLAGS = "rules/weight_flags.toml"
HEAVY = Condition(measure="weight_g", compare=">=", limit="choice:heaviest")


@pytest.fixture(scope="module")
def right(tmp_path_factory: pytest.TempPathFactory) -> Written:
    return read(content_folder.write(tmp_path_factory.mktemp("content")))


def faults_of(found: Written, *flags: Flag) -> list[str]:
    """What is said of these rows in place of those of the folder, each with its row."""
    faults = Faults()
    check_flags(changed(found, flags), faults)
    assert {one.code for one in faults.problems} <= {"CONTENT-012"}
    return [f"{one.where.rpartition(' ')[2]}: {one.what}" for one in faults.problems]


def changed(found: Written, flags: tuple[Flag, ...]) -> Written:
    fields = {name: getattr(found, name) for name in Written.__slots__}
    return Written(**{**fields, "flags": flags})


def row(found: Written, place: int = 0, **more: object) -> Flag:
    return msgspec.structs.replace(found.flags[place], **more)


def when(**more: object) -> Condition:
    return msgspec.structs.replace(HEAVY, **more)


def test_the_right_folder_has_no_fault(right: Written) -> None:
    assert faults_of(right, *right.flags) == []


ASKED = {
    "unknown disagreement": (when(limit="choice:lightest"), "There is no 'choice:lightest'."),
    "unknown choice alone": (when(limit="chosen:lightest"), "There is no 'chosen:lightest'."),
    "unknown limit": (when(limit="weights.ninth_g"), "There is no 'weights.ninth_g'."),
    "a disagreement without its prefix": (when(limit="heaviest"), "There is no 'heaviest'."),
    "an entry as a choice": (
        when(limit="choice:weights.first_g"),
        "There is no 'choice:weights.first_g'.",
    ),
    "unknown age": (when(from_age="no.age_d"), "There is no 'no.age_d'."),
    "unknown last age": (when(until_age="no.age_d"), "There is no 'no.age_d'."),
    "unknown gestation": (when(from_gestation="no.age_d"), "There is no 'no.age_d'."),
    "unknown last gestation": (when(until_gestation="no.age_d"), "There is no 'no.age_d'."),
    "a measure that nobody computes": (
        when(measure="size_g"),
        "'size_g' is not in rules/facts.toml.",
    ),
    "a find, which problems ask": (
        Condition(find="gape", answers=("short",)),
        "'gape' is not in rules/facts.toml.",
    ),
    "a sign that nobody sees": (Condition(sign="light"), "'light' is not in rules/facts.toml."),
    "a sign taken for a measure": (when(measure="heavy"), "'heavy' is not in rules/facts.toml."),
    "a trait that nobody has": (
        when(traits={"mode": ("vaginal",)}),
        "'mode' is not in rules/facts.toml.",
    ),
    "a measure without a limit": (
        Condition(measure="weight_g", compare=">="),
        "A measure is compared with a limit, and nothing else is.",
    ),
    "a measure without a comparison": (
        Condition(measure="weight_g", limit="weights.first_g"),
        "A measure is compared with a limit, and nothing else is.",
    ),
    "a sign with a limit": (
        Condition(sign="heavy", compare=">=", limit="weights.first_g"),
        "A measure is compared with a limit, and nothing else is.",
    ),
    "two things asked at once": (
        when(sign="heavy"),
        "A condition asks one thing; here: measure, sign.",
    ),
    "a thing asked beside what is joined": (
        Condition(sign="heavy", any_of=(HEAVY,)),
        "A condition asks one thing; here: sign, any.",
    ),
    "nothing asked": (Condition(), "A condition asks one thing; here: nothing."),
    "nothing asked below a not": (
        Condition(not_of=Condition()),
        "A condition asks one thing; here: nothing.",
    ),
    "nothing asked below an any": (
        Condition(any_of=(HEAVY, Condition())),
        "A condition asks one thing; here: nothing.",
    ),
    "a row asked before it is reached": (
        Condition(flag="heavy-perhaps"),
        "No row above it has the code 'heavy-perhaps'.",
    ),
    "a row asked that is itself": (
        Condition(undecided="heavy"),
        "No row above it has the code 'heavy'.",
    ),
}


@pytest.mark.parametrize("name", ASKED)
def test_what_cannot_be_asked_is_named(right: Written, name: str) -> None:
    condition, says = ASKED[name]
    assert faults_of(right, row(right, when=condition), row(right, 1)) == [f"heavy: {says}"]


@pytest.mark.parametrize(
    "condition",
    [
        when(limit="chosen:heaviest"),
        when(
            limit="weights.first_g", from_age="weights.third_g", until_gestation="weights.first_g"
        ),
        Condition(sign="heavy"),
        Condition(all_of=(HEAVY, Condition(not_of=Condition(sign="heavy")))),
        Condition(from_age="weights.first_g"),  # asks of everybody from an age on
    ],
)
def test_what_can_be_asked_is_let_be(right: Written, condition: Condition) -> None:
    assert faults_of(right, row(right, when=condition), row(right, 1)) == []


def test_a_trait_that_the_facts_name_can_be_asked(right: Written) -> None:
    askable = msgspec.structs.replace(right.askable, traits={"mode": "mode of delivery"})
    fields = {name: getattr(right, name) for name in Written.__slots__}
    known = Written(**{**fields, "askable": askable})
    assert (
        faults_of(known, row(right, when=when(traits={"mode": ("vaginal",)})), row(right, 1)) == []
    )


def test_what_is_asked_of_the_parent_is_not_asked_of_an_infant(right: Written) -> None:
    faults = faults_of(right, row(right, about="parent"), row(right, 1))
    assert faults == ["heavy: 'weight_g' is not in rules/facts.toml."]


ROWS = {
    "yields to none": (
        {"unless": ("light",)},
        "It yields to 'light', which is no other row.",
    ),
    "yields to itself": (
        {"unless": ("heavy",)},
        "It yields to 'heavy', which is no other row.",
    ),
    "an emergency in another colour": (
        {"level": "emergency", "shown": "amber"},
        "An emergency is shown in another colour than red.",
    ),
    "an emergency with no word how soon": (
        {"level": "emergency", "how_soon": ""},
        "At the level 'emergency' it must say how soon.",
    ),
    "a physician with no word how soon": (
        {"how_soon": ""},
        "At the level 'physician' it must say how soon.",
    ),
    "published without a source": (
        {"basis": "published"},
        "It is called published and cites nothing.",
    ),
    "unknown source": (
        {"citations": (Citation(source="nobody", says="x"),)},
        "The source 'nobody' is not in sources.toml.",
    ),
    "unknown time that ends it": (
        {"clears": Clears(by=("time",), says="time", after="no.time_h")},
        "There is no 'no.time_h'.",
    ),
}


@pytest.mark.parametrize("name", ROWS)
def test_what_a_row_must_say_is_asked_of_it(right: Written, name: str) -> None:
    fields, says = ROWS[name]
    assert faults_of(right, row(right, **fields), row(right, 1)) == [f"heavy: {says}"]


@pytest.mark.parametrize(
    "fields",
    [
        {"level": "look", "shown": "red", "how_soon": ""},  # below the consultant nothing is agreed
        {"level": "emergency"},
        {"unless": ("heavy-perhaps",)},  # a row may yield to one below it
        {"basis": "published", "citations": (Citation(source="a_2020", says="x"),)},
        {"clears": Clears(by=("time",), says="time", after="weights.first_g")},
    ],
)
def test_what_a_row_may_say_is_let_be(right: Written, fields: dict[str, object]) -> None:
    assert faults_of(right, row(right, **fields), row(right, 1)) == []


def test_the_consultants_row_must_say_how_soon_and_a_look_need_not(right: Written) -> None:
    asked, looked = (row(right, 1, level=level) for level in ("consultant", "look"))
    assert faults_of(right, row(right), asked) == [
        "heavy-perhaps: At the level 'consultant' it must say how soon."
    ]
    assert faults_of(right, row(right), looked) == []


def test_a_code_is_used_once(right: Written) -> None:
    faults = faults_of(right, row(right), row(right, 1, code="heavy", unless=()))
    assert faults == ["heavy: The code is used twice."]


def test_red_stands_above_amber_and_amber_above_notes(right: Written) -> None:
    red, amber = row(right), row(right, when=Condition(sign="heavy"), code="amber", level="look")
    note = row(right, when=Condition(sign="heavy"), code="note", level="note")
    assert faults_of(right, red, amber, note) == []
    assert faults_of(right, amber, red) == ["heavy: A row shown 'red' is below a calmer one."]
    assert faults_of(right, red, note, amber) == [
        "amber: A row shown 'amber' is below a calmer one."
    ]


def test_a_red_row_about_the_parent_may_stand_below_those_of_infants(right: Written) -> None:
    facts = msgspec.structs.replace(right.askable.infant)
    askable = msgspec.structs.replace(right.askable, parent=facts)
    fields = {name: getattr(right, name) for name in Written.__slots__}
    known = Written(**{**fields, "askable": askable})
    amber = row(right, 1, when=Condition(sign="heavy"), unless=())
    assert faults_of(known, amber, row(right, about="parent")) == []


def test_several_faults_of_one_row_are_told_at_once(right: Written) -> None:
    faults = faults_of(right, row(right, how_soon="", unless=("light",)), row(right, 1))
    assert faults == [
        "heavy: At the level 'physician' it must say how soon.",
        "heavy: It yields to 'light', which is no other row.",
    ]


def test_no_row_at_all_is_a_fault(right: Written) -> None:
    (fault,) = faults_of(right)
    assert fault.endswith("There is no flag.")


def test_each_prefix_of_a_choice_asks_the_disagreements(right: Written) -> None:
    for prefix in CHOSEN:
        assert faults_of(right, row(right, when=when(limit=f"{prefix}heaviest"))) == []
        assert faults_of(right, row(right, when=when(limit=f"{prefix}nothing"))) != []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("choice:heaviest", "choice:lightest"),
        ('unless = ["heavy"]', 'unless = ["light"]'),
        ('code = "heavy-perhaps"', 'code = "heavy"'),
        ('how_soon = "the same day"\n', ""),
    ],
)
def test_a_folder_with_such_a_row_is_not_loaded(tmp_path: Path, old: str, new: str) -> None:
    with pytest.raises(ContentError) as refused:
        load_folder(content_folder.write(tmp_path, (FLAGS, old, new)))
    assert {problem.code for problem in refused.value.problems} == {"CONTENT-012"}
    assert all(problem.where.startswith(FLAGS) for problem in refused.value.problems)
    assert all(problem.what and problem.why and problem.fix for problem in refused.value.problems)


@pytest.mark.parametrize("without", [FLAGS, "rules/facts.toml"])
def test_a_set_that_would_find_nothing_is_refused(tmp_path: Path, without: str) -> None:
    folder = content_folder.write(tmp_path)
    (folder / without).unlink()
    with pytest.raises(ContentError, match="CONTENT-012"):
        load_folder(folder)


def test_a_row_whose_topic_does_not_say_it_must_say_what_it_means_where_milk_is_judged(
    right: Written,
) -> None:
    says = row(right, judged="short")
    bare = row(right, 1, topic="output", unless=())
    lacks = "heavy-perhaps: It does not say what it tells about milk."
    assert faults_of(right, says, bare) == [lacks]
    assert faults_of(right, says, msgspec.structs.replace(bare, judged="nothing")) == []
    # A set of before says it of no row and can be read all the same.
    assert faults_of(right, row(right), bare) == []
