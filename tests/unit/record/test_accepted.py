"""Damage that somebody accepts is on the trail, stays listed, and keeps nobody from entering; another is not."""

from __future__ import annotations

import pytest

from lifted import triggers_lifted
from people import BORN_AT, an_entry, an_id
from suffice.care import verifying
from suffice.clinical.entry import Infant, Weight
from suffice.errors import DamageError
from suffice.record import accepted, damage, models, repository, verified
from suffice.record.verify import Found, Wrong

pytestmark = pytest.mark.django_db

FAMILY, OTHER = an_id("family"), an_id("other")


@pytest.fixture(autouse=True)
def record(settings, tmp_path):
    settings.HOME = tmp_path
    for family, name in ((FAMILY, "weight"), (OTHER, "elsewhere")):
        infant = Infant(id=an_id(f"infant of {name}"), position=1)
        repository.open_family(family, [infant], opened_at=BORN_AT, opened_by="consultant")
        repository.append(family, [an_entry(name, Weight(weight_g=3280.0), infant=infant)])


def change(name="weight", by="somebody"):
    with triggers_lifted():
        models.Entry.objects.filter(id=an_id(name)).update(entered_by=by)


def accept(family=FAMILY):
    checked = verifying.check_whole()
    return verifying.accept(checked, family, who="marta", why="as on paper")


def test_what_was_accepted_can_be_added_to_and_stays_listed():
    change()
    (one,) = accept()
    assert not damage.is_damaged(FAMILY)
    damage.refuse([FAMILY])
    checked = verifying.check_whole()
    (found,) = checked.found
    said = accepted.among(checked.found)[found]
    assert (said.who, said.why) == ("marta", "as on paper")
    assert one == found
    assert verified.known() == ()
    assert verified.accepted_count() == 1
    assert verifying.warnings(FAMILY, said.at) == []


def test_the_acceptance_is_on_the_trail_with_the_family():
    change()
    accept()
    event = models.TrailEvent.objects.get(page=accepted.PAGE)
    assert (event.who, event.why, event.family_id) == ("marta", "as on paper", FAMILY)
    assert event.about.startswith(f"changed entry {an_id('weight').hex} ")


def test_the_same_row_changed_once_more_is_damage_again():
    change()
    accept()
    change(by="somebody else")
    verifying.check_whole()
    assert damage.is_damaged(FAMILY)
    with pytest.raises(DamageError):
        damage.refuse([FAMILY])


def test_only_the_family_that_was_named_is_accepted():
    change()
    change("elsewhere")
    assert len(accept()) == 1
    assert (damage.is_damaged(FAMILY), damage.is_damaged(OTHER)) == (False, True)
    assert len(accept(None)) == 1, "the first was accepted already"
    assert not damage.is_damaged(OTHER)


def test_a_quick_look_does_not_take_back_what_was_accepted():
    change()
    accept()
    assert verifying.look().found
    assert not damage.is_damaged(FAMILY)


def test_a_damaged_page_cannot_be_accepted():
    assert not accepted.can_be(Found(wrong=Wrong.PAGE, key="row 3"))
    assert accepted.can_be(Found(wrong=Wrong.CHANGED, form="entry", key="a"))


def test_an_acceptance_that_is_itself_wrong_accepts_nothing():
    change()
    accept()
    with triggers_lifted():
        models.TrailEvent.objects.filter(page=accepted.PAGE).update(who="somebody")
    verifying.check_whole()
    assert damage.is_damaged(FAMILY)
