"""The Bench: the same answers, and nothing stored."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from django.test import Client

from suffice.record.models import Entry, Family


def ago(hours: float) -> str:
    return f"{datetime.now(UTC) - timedelta(hours=hours):%Y-%m-%dT%H:%M}"


def sent(**changed: str) -> dict[str, str]:
    return {
        "born": ago(100),
        "birth_weight": "3300",
        "sex": "male",
        "gestation": "39+1",
        "mode": "vaginal",
        "weight_1": "2930",
        "weighed_1": ago(2),
        "wets": "2",
        "stools": "1",
        "given": "",
    } | changed


def test_bench_answers_and_stores_nothing(page: Client) -> None:
    html = page.post("/bench/", sent()).content.decode()
    assert "Red flags" in html
    assert "11.2\u00a0%" in html
    assert html.count('<svg class="drawing ') == 3
    assert "Working" in html
    assert not Family.objects.exists()
    assert not Entry.objects.exists()


def test_bench_keeps_nothing_in_the_session_or_the_address(page: Client) -> None:
    answer = page.post("/bench/", sent())
    assert answer.status_code == 200
    assert "2930" not in str(dict(page.session))


def test_bench_tells_what_is_wrong_at_the_field(page: Client) -> None:
    html = page.post("/bench/", sent(weight_1="many", weighed_2=ago(1))).content.decode()
    assert "READ-001" in html[html.index('id="id_weight_1_error"') :]
    assert "This time needs its weight. Which was it?" in html
    assert 'class="value"' not in html


def test_bench_asks_about_a_doubtful_weight(page: Client) -> None:
    html = page.post("/bench/", sent(weight_1="5200")).content.decode()
    assert "Please confirm" in html


def test_bench_with_birth_alone_answers(page: Client) -> None:
    html = page.post("/bench/", {"born": ago(30)}).content.decode()
    assert "No weight is known yet" in html
    assert "30\u00a0h" in html


def test_newborn_of_the_first_days_is_not_called_short_of_what_growth_needs_later(
    page: Client,
) -> None:
    """On day 1 every newborn takes less than the requirement of growth and loses weight."""
    early = page.post("/bench/", {"born": ago(30), "birth_weight": "3400"}).content.decode()
    assert "neither intake nor gain is assessed here" in early
    assert "Intake too low to gain" not in early
    assert 'class="gauge' not in early
    assert "Birth weight not back by day 14" in early
    later = page.post("/bench/", sent(born=ago(240), weighed_1=ago(2))).content.decode()
    assert "Intake too low to gain" in later
    assert 'class="gauge"' in later
    for html in (early, later):
        assert "too narrow where weights scatter much more than usual" in html
    assert "Weights alone cannot fix a volume" in later
