"""Opening a family: one parent, one or more infants, once."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

from django.contrib.auth.models import User
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.clinical import entry as domain
from suffice.record import teams

NEW = "/families/new/"


def sent(count: int = 1, **changed: str) -> dict[str, str]:
    now = datetime.now(UTC)
    born = f"{now - timedelta(days=3):%Y-%m-%dT%H:%M}"
    form = {
        "family_id": str(uuid4()),
        "opened": now.isoformat(timespec="microseconds"),
        "infants_count": str(count),
        "name": "Perpetua Testcase",
        "setting": "ward",
    }
    for place in range(1, count + 1):
        form |= {
            f"infant-{place}-name": f"Infant {place}",
            f"infant-{place}-born": born,
            f"infant-{place}-sex": "female",
            f"infant-{place}-birth_weight": "7 lb 4 oz",
            f"infant-{place}-gestation": "38+2",
            f"infant-{place}-mode": "caesarean",
        }
    return form | changed


def test_family_of_one_is_opened_with_its_birth_facts(page: Client) -> None:
    form = sent()
    answer = page.post(NEW, form)
    assert answer["Location"] == f"/families/{form['family_id']}/"
    record = record_of(UUID(form["family_id"]))
    (birth,) = [e.fact for e in record.entries if isinstance(e.fact, domain.Birth)]
    assert birth.gestation_days == 268
    assert birth.birth_weight_g is not None
    assert round(birth.birth_weight_g) == 3289
    assert (birth.sex, birth.mode, birth.multiple) == ("female", "caesarean", 1)


def test_twins_are_one_family(page: Client) -> None:
    form = sent(2)
    assert page.post(NEW, form).status_code == 302
    record = record_of(UUID(form["family_id"]))
    assert [infant.position for infant in record.infants] == [1, 2]
    assert {e.fact.multiple for e in record.entries if isinstance(e.fact, domain.Birth)} == {2}


def test_same_form_sent_twice_opens_one_family(page: Client) -> None:
    form = sent()
    page.post(NEW, form)
    entries = len(record_of(UUID(form["family_id"])).entries)
    assert page.post(NEW, form).status_code == 302
    assert len(record_of(UUID(form["family_id"])).entries) == entries


def test_another_infant_is_added_and_nothing_written_is_lost(page: Client) -> None:
    html = page.post(NEW, sent() | {"add-infant": "1"}).content.decode()
    assert 'value="Perpetua Testcase"' in html
    assert 'value="7 lb 4 oz"' in html
    assert 'name="infant-2-birth_weight"' in html
    assert 'name="infants_count" value="2"' in html
    assert "Not saved yet" not in html
    assert html.count('value="38+2"') == 2  # twins share it most often
    assert 'name="infant-2-mode" value="caesarean"' in html
    # Sex and mode of both, and where they are looked after.
    assert html.count(" checked") == 5


def test_problems_stand_at_their_infant(page: Client) -> None:
    form = sent(2, **{"infant-2-birth_weight": "a lot", "infant-1-gestation": "99"})
    html = page.post(NEW, form).content.decode()
    assert "READ-001" in html[html.index('id="id_infant-2-birth_weight_error"') :]
    assert 'id="id_infant-1-gestation_error"' in html
    assert 'id="id_infant-1-birth_weight_error"' not in html


def test_birth_facts_without_an_instant_are_asked_for_it(page: Client) -> None:
    html = page.post(NEW, sent(**{"infant-1-born": ""})).content.decode()
    assert "Enter when the infant was born" in html


def test_birth_in_the_future_is_refused_at_its_field(page: Client) -> None:
    late = f"{datetime.now(UTC) + timedelta(days=2):%Y-%m-%dT%H:%M}"
    html = page.post(NEW, sent(**{"infant-1-born": late})).content.decode()
    assert 'id="id_infant-1-born_error"' in html


def test_doubtful_birth_weight_is_asked_and_stored_when_confirmed(page: Client) -> None:
    form = sent(**{"infant-1-birth_weight": "6400"})
    html = page.post(NEW, form).content.decode()
    assert "Please confirm" in html
    asked = re.search(r'type="checkbox"\s+name="([^"]+)"\s+value="([^"]+)"', html)
    assert asked is not None
    name, token = asked.groups()
    assert page.post(NEW, form | {name: token}).status_code == 302


def test_another_infant_complains_of_nothing_that_is_still_missing(page: Client) -> None:
    form = sent() | {"name": "", "infant-1-birth_weight": "a lot", "add-infant": "1"}
    html = page.post(NEW, form).content.decode()
    assert 'id="what-is-wrong"' not in html
    assert 'aria-invalid="true"' not in html
    assert 'value="a lot"' in html


def test_no_more_infants_are_added_than_a_family_may_have(page: Client) -> None:
    html = page.post(NEW, sent(6) | {"add-infant": "1"}).content.decode()
    assert 'name="infants_count" value="6"' in html
    assert "add-infant" not in html


def test_where_families_are_looked_after_is_offered_as_last_time(page: Client) -> None:
    page.post(NEW, sent(setting="ward"))
    assert page.get(NEW).context["head"]["setting"].value() == "ward"


def test_a_script_is_told_where_the_family_stands(page: Client) -> None:
    form = sent()
    answer = page.post(NEW, form, headers={"X-Kept-Form": "yes"})
    assert (answer.status_code, answer["X-Go"]) == (204, f"/families/{form['family_id']}/")


def test_who_belongs_to_several_teams_chooses_the_team(page: Client, consultant: User) -> None:
    other = UUID("11111111-0000-4000-8000-000000000000")
    teams.add_team(other, "Night ward", now=datetime.now(UTC))
    assert 'name="team"' not in page.get("/families/new/").content.decode()
    teams.set_role(consultant.pk, other, "consultant")
    html = page.get("/families/new/").content.decode()
    assert html.count('name="team"') == 2
    form = sent(team=str(other))
    assert page.post(NEW, form).status_code == 302
    assert teams.team_of(UUID(form["family_id"])) == other
    wrong = sent(team=str(uuid4()))
    assert page.post(NEW, wrong).status_code == 200
    assert teams.team_of(UUID(wrong["family_id"])) is None
