"""Policy: units, zone, own values and choices; asked when outside the published range."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any
from unittest.mock import patch
from uuid import UUID, uuid4

import msgspec
import pytest
from django.test import Client

from bad_input.shown_page import ShownPage
from suffice.assess.results import Tier
from suffice.care.caseload.effect import Effect
from suffice.care.clinic.clinic import change_policy, clinic, policy_history
from suffice.inference.evidence import Scale
from suffice.knowledge.clinic_site import prior_name
from suffice.knowledge.growth_forecast import growth_prior
from suffice.knowledge.store import load
from suffice.language.catalogue import translated
from suffice.record import policies

KEY = "temperature.fever_c"
NOW = datetime(2026, 11, 29, 12, tzinfo=UTC)


def sent(**changed: str) -> dict[str, str]:
    choices = {
        f"choice:{name}": one.chosen for name, one in load().disagreements.items() if one.decides
    }
    return {
        "version_id": str(uuid4()),
        "clinic_name": "Test clinic",
        "zone": "America/Chicago",
        "weight_unit": "lb oz",
        "volume_unit": "fl oz",
        "temperature_unit": "F",
        "language": "en",
        "parent_word": "mother",
        "date_order": "month first",
        "paper_size": "letter",
        "engine_ranking": "on",
        "idle_min": "30",
        **choices,
    } | changed


def said(answer: Any) -> str:
    return " ".join(answer.content.decode().replace("\u00a0", " ").split())


def test_policy_is_changed_by_a_new_version_and_pages_follow(page: Client, family: UUID) -> None:
    assert page.post("/policy/", sent())["Location"] == "/policy/"
    assert clinic().policy.zone == "America/Chicago"
    assert len(policy_history()) == 1
    html = page.get(f"/families/{family}/").content.decode()
    assert "6\u00a0lb 9.8\u00a0oz" in html
    assert "The mother" in page.get(f"/families/{family}/enter/note/").content.decode()
    assert "The mother" in page.get("/families/new/").content.decode()
    assert "America/Chicago" in page.get(f"/families/{family}/enter/weight/").content.decode()


def test_same_version_sent_twice_is_one_version(page: Client) -> None:
    form = sent()
    page.post("/policy/", form)
    assert page.post("/policy/", form).status_code == 302
    assert len(policy_history()) == 1


@pytest.mark.parametrize(
    ("changed", "field", "code"),
    [
        ({"zone": "Atlantis"}, "id_zone_error", "CLOCK-005"),
        ({"clinic_name": " "}, "id_clinic_name_error", "Nothing is written"),
        ({"new_key": "no.such", "new_value": "3"}, "id_new_key_error", "no.such"),
        ({"new_key": KEY, "new_value": "warm"}, "id_new_value_error", "is not a number"),
        ({"new_key": KEY, "new_value": ""}, "id_new_value_error", "Enter both"),
    ],
)
def test_wrong_setting_is_told_at_its_field(
    page: Client, changed: dict[str, str], field: str, code: str
) -> None:
    html = page.post("/policy/", sent(**changed)).content.decode()
    at = html.index(f'id="{field}"')
    assert code in html[at : at + 600]
    assert policy_history() == ()


def test_own_value_is_named_wherever_it_is_used(page: Client, family: UUID) -> None:
    limit = load().constant(KEY)
    assert limit.low is not None
    assert limit.low <= 37.8
    page.post("/policy/", sent(new_key=KEY, new_value="37.8"))
    assert clinic().content.constant(KEY).overridden_from == limit.value
    assert "Your clinic&#x27;s own value" in page.get("/library/?q=fever").content.decode() or (
        "Your clinic's own value" in page.get("/library/?q=fever").content.decode()
    )
    assert f"value:{KEY}" in page.get("/policy/").content.decode()


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_content_key_is_shown_on_the_policy(page: Client, language: str) -> None:
    """Not of a choice, not of a value of the clinic's own, not of one it may replace."""
    content = load()
    chosen = {"choice:weight_loss_limit": "weight_loss.limit_chart_percent"}
    own = {"new_key": "weight_loss.limit_ten_percent.0", "new_value": "9.5"}
    page.post("/policy/", sent(language=language, **own, **chosen))
    assert clinic().policy.constants == {"weight_loss.limit_ten_percent.0": 9.5}
    shown = ShownPage(page.get("/policy/").content.decode())
    assert "limit ten" in shown.text
    keys = {*content.flat, *content.entries, *content.disagreements}
    telling = [key for key in keys if "." in key or "_" in key]
    assert len(telling) > 450
    assert [key for key in telling if key in shown.text] == []
    assert not re.search(r"\b[a-z]+(\.[a-z]+)*\.[a-z]+(_[a-z]+)+", shown.text)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_choice_has_its_name_its_value_and_what_it_changes(
    page: Client, language: str
) -> None:
    page.post("/policy/", sent(language=language))
    shown = ShownPage(page.get("/policy/").content.decode())
    for name, dispute in load().disagreements.items():
        if not dispute.decides:
            assert f"choice:{name}" not in shown.fields
            continue
        assert shown.fields[f"choice:{name}"] == [dispute.chosen]
        said = [dispute.question, dispute.changes]
        said += [one for answer in dispute.answers for one in (answer.name, answer.changes)]
        for sentence in said:
            words = translated(sentence, language)
            assert language == "en" or words != sentence, sentence
            assert words.casefold() in shown.text.casefold()
    assert ("10.0 %" if language == "en" else "10,0 %") in shown.text


def test_value_outside_the_published_range_is_asked_about(page: Client) -> None:
    html = page.post("/policy/", sent(new_key=KEY, new_value="38.4")).content.decode()
    assert "Please confirm" in html
    asked = re.findall(r'type="checkbox"\s+name="([^"]+-meant)"\s+value="([^"]+)"', html)
    name, token = asked[-1]
    form = sent(new_key=KEY, new_value="38.4") | {name: token}
    assert page.post("/policy/", form).status_code == 302


@pytest.mark.parametrize(
    ("key", "value", "limits"),
    [
        ("schedule.step_minutes", "5000", "5 to 60"),
        ("schedule.step_minutes", "0", "5 to 60"),
        ("schedule.start_minutes", "-15", "5 to 120"),
        ("weight_change.birth_h", "3", "is the same for everybody"),
    ],
)
def test_a_value_that_nothing_can_be_worked_out_with_is_refused_for_good(
    page: Client, key: str, value: str, limits: str
) -> None:
    html = page.post("/policy/", sent(new_key=key, new_value=value)).content.decode()
    at = html.index('id="id_new_key_error"')
    assert limits in html[at : at + 600]
    assert "-meant" not in html
    assert policy_history() == ()


def test_a_value_kept_before_there_were_limits_is_not_in_force_and_said_so(page: Client) -> None:
    """Nor is one that is no longer known: both as an earlier version of the program kept them."""
    page.post("/policy/", sent())
    (version,) = policy_history()
    plain = msgspec.json.decode(msgspec.json.encode(version.policy))
    plain["constants"] = {"schedule.step_minutes": 5000.0, "gain.of_the_past_g_per_day": 3.0}
    policies.append(uuid4(), plain, entered_at=NOW, entered_by="consultant")
    assert clinic().content.constant("schedule.step_minutes").value == 15
    html = page.get("/policy/").content.decode()
    assert "5000 min is not in force" in html.replace("\u00a0", " ")
    assert "1 value of yours is no longer known" in html
    assert "2 values of your clinic are not in force" in said(page.get("/"))
    assert "2 are not in force" in said(page.get("/state/"))
    kept = sent(**{"value:schedule.step_minutes": "5000"})
    assert page.post("/policy/", kept).status_code == 200
    taken_off = sent(**{"value:schedule.step_minutes": ""})
    assert page.post("/policy/", taken_off)["Location"] == "/policy/"
    assert clinic().policy.constants == {}
    assert "not in force" not in said(page.get("/")) + said(page.get("/state/"))


def test_engine_ranking_can_be_turned_off(page: Client) -> None:
    form = sent()
    del form["engine_ranking"]
    page.post("/policy/", form)
    assert clinic().policy.engine_ranking is False


def test_a_scale_is_entered_changed_and_taken_off(page: Client) -> None:
    page.post("/policy/", sent(**{"scale:0:name": "Ward 2", "scale:0:bias_g": "-12,5"}))
    assert clinic().policy.scales == (Scale(name="Ward 2", bias_g=-12.5),)
    form = page.get("/policy/").context["form"]
    assert form.fields["scale:0:bias_g"].initial == "-12.5"
    assert form.fields["scale:1:name"].initial == ""
    page.post("/policy/", sent(**{"scale:0:name": "Ward 2", "scale:0:resolution_g": "2"}))
    assert clinic().policy.scales == (Scale(name="Ward 2", resolution_g=2.0),)
    page.post("/policy/", sent(**{"scale:0:name": ""}))
    assert clinic().policy.scales == ()


@pytest.mark.parametrize("text", ["heavy", "nan", "-2"])
def test_a_step_that_is_no_step_is_told_at_its_field(page: Client, text: str) -> None:
    answer = page.post("/policy/", sent(**{"scale:0:name": "A", "scale:0:resolution_g": text}))
    assert "scale:0:resolution_g" in answer.context["form"].errors
    assert clinic().policy.scales == ()


def test_values_of_answers_that_were_not_chosen_are_marked(page: Client) -> None:
    html = page.get("/policy/").content.decode()
    dispute = load().disagreements["regain_limit"]
    for key in dispute.candidates:
        option = re.search(rf'<option value="{re.escape(key)}"[^>]*>([^<]*)</option>', html)
        assert option is not None, key
        assert ("another answer" in option[1]) is (key != dispute.chosen)


def test_what_a_policy_would_change_is_shown_before_it_is_saved(page: Client, family: UUID) -> None:
    warm = sent(new_key=KEY, new_value="37.5")
    with patch("suffice.web.policy.views.effect_of", return_value=effect(Tier.SETTLED, Tier.NOW)):
        html = page.post("/policy/", warm).content.decode()
    assert policy_history() == ()
    assert "Of your 2 families, 1 would be in a more urgent group and 0 in a less urgent" in html
    assert "now 0, then 1" in html
    found = re.search(r'name="form-meant"[^>]*value="([0-9a-f]+)"', html)
    assert found
    with patch("suffice.web.policy.views.effect_of", return_value=effect(Tier.NOW, Tier.TODAY)):
        other = page.post("/policy/", warm | {"form-meant": found[1]}).content.decode()
    assert "0 would be in a more urgent group and 1 in a less urgent" in other
    assert policy_history() == ()
    with patch("suffice.web.policy.views.effect_of", return_value=effect(Tier.SETTLED, Tier.NOW)):
        assert page.post("/policy/", warm | {"form-meant": found[1]}).status_code == 302
    assert clinic().content.constant(KEY).value == 37.5


def test_a_policy_that_moves_nobody_is_saved_at_once(page: Client, family: UUID) -> None:
    assert page.post("/policy/", sent(new_key=KEY, new_value="37.9")).status_code == 302


def effect(before: Tier, after: Tier) -> Effect:
    return Effect(
        looked_count=2,
        all_count=3,
        moves={(before, after): 1},
        before={before: 1, Tier.SETTLED: 1} if before is not Tier.SETTLED else {before: 2},
        after={after: 1, Tier.SETTLED: 1},
    )


def a_site(prior: str) -> dict[str, object]:
    return {
        "learned_at": "2026-03-04T02:30:00Z",
        "infants_count": 140,
        "weights_count": 512,
        "spread": 1.0,
        "noise_g": 41.0,
        "gross_share": 0.03,
        "mean": [0.0],
        "covariance": [1.0],
        "prior": prior,
    }


def own_infants(page: Client) -> str:
    html = page.get("/policy/").content.decode()
    start = html.index("Your own infants")
    return " ".join(html[start : start + 1500].replace("\u00a0", " ").split())


def test_the_policy_says_that_too_few_own_infants_are_there(page: Client) -> None:
    assert "Once 100 infants of this clinic have been weighed twice" in own_infants(page)


def test_the_policy_says_on_how_many_own_infants_forecasts_rest_and_a_box_leaves_them_out(
    page: Client,
) -> None:
    prior = prior_name(growth_prior(load()))
    now = datetime.now(UTC)
    change_policy(uuid4(), {"site": a_site(prior)}, now=now, actor="suffice")
    told = own_infants(page)
    assert "from 140 infants of this clinic with 512 weights" in told
    assert "uncertain by 41 g" in told
    assert "Forecasts follow them." in told
    page.post("/policy/", sent(site_off="on", weight_unit="g"))
    assert clinic().policy.site_in_use is None
    assert clinic().policy.site is not None
    assert "Left out of forecasts." in own_infants(page)
    page.post("/policy/", sent(weight_unit="g"))
    assert clinic().policy.site_in_use is not None


def test_what_was_learned_of_another_growth_model_is_not_used(page: Client) -> None:
    change_policy(uuid4(), {"site": a_site("older")}, now=datetime.now(UTC), actor="suffice")
    assert "Not used: the growth model has changed since" in own_infants(page)
