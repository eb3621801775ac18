"""The weight chart in words: limit, growth standard, days and points."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import translation

from spec.vignette import BORN_AT, record_of
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.web.family.weight_chart import chart_shown, weight_chart_of
from suffice.web.shown.wording import Wording

CONTENT = load()
POLICY = Policy(zone="UTC")
BOY = "boy, 39+0, 3000 g, vaginal"


def infant_of(seen, infant=BOY, *, age_d=3.0, engine=False):
    as_of = BORN_AT + timedelta(days=age_d)
    return assess(record_of(infant, seen), as_of, CONTENT, POLICY, engine=engine).infants[0]


def drawn(infant, content=CONTENT):
    return weight_chart_of(infant, content, Wording(policy=POLICY))


def plain(label):
    return label.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("chosen", "label"),
    [
        ("weight_loss.limit_ten_percent", "10 % loss: 2700 g"),
        ("weight_loss.limit_seven_percent", "7 % loss: 2790 g"),
        ("weight_loss.limit_chart_percent", "11.1 % loss: 2667 g"),
    ],
)
def test_the_limit_of_loss_names_the_clinics_choice_and_its_weight(chosen, label):
    policy = Policy(zone="UTC", choices={"weight_loss_limit": chosen})
    limit = drawn(infant_of("60 h: 2800 g"), policy.content_in_force(CONTENT)).limit
    assert plain(limit.label) == label


def test_what_is_not_there_is_not_drawn():
    chart = drawn(infant_of("10 h: wet", "nobody knows"))
    assert chart.description == "No weight is known yet."
    assert (chart.birth_weight, chart.limit, chart.corridor, chart.fan_middle) == (None,) * 4
    assert (chart.points, chart.reference_lines, chart.markers) == ((), (), ())


@pytest.mark.parametrize(
    ("infant", "name"),
    [(BOY, "WHO"), ("boy, 30+0, 1300 g, vaginal", "INTERGROWTH-21st")],
)
def test_the_standard_is_named_and_its_lines_are(infant, name):
    assessed = infant_of("20 d: 1500 g", infant, age_d=21.0)
    labels = [line.label for line in drawn(assessed).reference_lines]
    assert labels == ["\N{MINUS SIGN}2 SD", "median", "+2 SD"]
    caption = chart_shown(assessed, CONTENT, Wording(policy=POLICY)).caption
    assert f"Grey: the growth standard ({name}), 2 SD about its median." in caption


def test_days_of_regain_and_the_corridor_are_named():
    chart = drawn(infant_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0, engine=True))
    back, target = (plain(marker.label) for marker in chart.markers)
    assert back.startswith("birth weight back about day ")
    assert target.startswith("target: day ")
    assert [one.is_goal for one in chart.markers] == [False, True]
    assert plain(chart.corridor.label).startswith("taught gain ")
    assert chart.fan_middle.label == "forecast"


def test_a_point_says_its_time_its_clothes_and_whether_it_is_in_doubt():
    infant = infant_of("48 h: 2800 g; 60 h: 3900 g clothed; 65 h: 2790 g")
    chart = drawn(infant)
    said = [plain(point.says).split(" · ") for point in chart.points]
    assert [len(one) for one in said] == [3, 5, 5, 5]
    assert said[1][1:] == ["48 h", "2800 g", "\N{MINUS SIGN}6.7 % from birth weight", "naked"]
    assert said[2][-1] == "clothed"
    assert [point.doubtful for point in chart.points] == [False] * 4


def test_the_clothes_are_named_in_the_readers_language():
    infant = infant_of("60 h: 2800 g")
    with translation.override("es"):
        assert drawn(infant).points[-1].says.endswith(" · desnudo")


def test_the_page_gets_a_drawing_for_each_width_and_words_for_the_rest():
    infant = infant_of("3 d: 2800 g; 8 d: 2950 g", age_d=9.0, engine=True)
    shown = chart_shown(infant, CONTENT, Wording(policy=POLICY))
    assert len(shown.drawings) == 3
    assert shown.count == 3
    assert shown.last == drawn(infant).points[-1].says
    assert plain(shown.taught).startswith("taught gain ")
    assert [said.split(":")[0] for said in shown.caption] == ["Dots", "Fan", "Grey"]


def test_the_caption_says_nothing_of_what_is_not_drawn():
    infant = infant_of("60 h: 2800 g", "39+0, 3000 g, vaginal")
    shown = chart_shown(infant, CONTENT, Wording(policy=POLICY))
    assert (shown.caption, shown.taught) == (("Dots: weights.",), "taught gain 19 to 28 g/day")
    assert (
        chart_shown(infant_of("10 h: wet", "nobody knows"), CONTENT, Wording(policy=POLICY)) is None
    )
