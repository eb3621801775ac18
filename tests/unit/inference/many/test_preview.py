from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np
import pytest

from many_infants import POPULATION, QUESTION, asked, drawn, gathered
from suffice.inference.evidence import WeightReading
from suffice.inference.infant.answer import preview
from suffice.inference.many import preview as many
from suffice.inference.many.preview import ManyAsked, preview_many

INFANTS = drawn(150)
MANY, QUESTIONS = asked(len(INFANTS))


def told(infants, lines, place=slice(None)):
    found = preview_many(
        gathered(infants),
        POPULATION,
        QUESTION,
        ManyAsked(
            gain_limit_g_per_day=lines.gain_limit_g_per_day[place],
            requirement_gain_g_per_day=lines.requirement_gain_g_per_day[place],
        ),
    )
    return np.column_stack(
        [
            found.intake_ml_per_day,
            found.requirement_ml_per_day,
            found.intake_short_probability,
        ]
    )


def one_by_one(infants, questions):
    rows = []
    for infant, question in zip(infants, questions, strict=True):
        estimate = preview(infant, POPULATION, question)
        rows.append(
            [
                *(quantiles(estimate.total_intake)),
                *(quantiles(estimate.requirement)),
                estimate.intake_short_probability,
            ]
        )
    return np.array(rows)


def quantiles(interval):
    return (
        interval.median, interval.low_50, interval.high_50, interval.low_80, interval.high_80,
        interval.low_95, interval.high_95,
    )  # fmt: skip


@pytest.fixture(scope="module")
def together():
    return told(INFANTS, MANY)


def test_the_answers_are_those_of_one_by_one(together):
    """Within .001 mL; rounding, which the search for the mode stretches, moves no draw by a rank here."""
    np.testing.assert_allclose(together, one_by_one(INFANTS, QUESTIONS), atol=1e-3)


def test_the_infants_in_view_are_of_every_kind():
    """What the comparison above rests on: sittings, slips, facts not known, questions long after."""
    shapes = many._shapes(gathered(INFANTS), POPULATION, QUESTION)
    assert {shape.sittings for shape in shapes} >= {0, 1}
    assert any(shape.news for shape in shapes)
    assert len({shape.places for shape in shapes}) > 5
    assert any(one.birth_weight_g is None for one in INFANTS)


@pytest.mark.parametrize("size", [1, 2, 7, 40])
def test_an_infant_s_bits_do_not_depend_on_who_else_is_asked_about(together, size):
    order = np.random.default_rng(size).permutation(len(INFANTS))[: 4 * size]
    for start in range(0, len(order), size):
        place = order[start : start + size]
        np.testing.assert_array_equal(
            told([INFANTS[k] for k in place], MANY, place), together[place]
        )


def test_nor_on_how_many_share_a_pass(together, monkeypatch):
    for at_once, drawn_at_once in ((1, 1), (5, 3), (1000, 1000)):
        monkeypatch.setattr(many, "_AT_ONCE", at_once)
        monkeypatch.setattr(many, "_DRAWN_AT_ONCE", drawn_at_once)
        np.testing.assert_array_equal(told(INFANTS, MANY), together)


def test_nor_on_empty_places(together):
    evidence = gathered(INFANTS)
    wide = replace(evidence, weighings=evidence.weighings.places(20))
    found = preview_many(wide, POPULATION, QUESTION, MANY)
    np.testing.assert_array_equal(found.intake_ml_per_day, together[:, :7])


@pytest.mark.parametrize("count", [13, 30, 70])
def test_more_weights_than_latents_are_no_more_than_another_shape(count):
    ages = np.linspace(0.5, 21.0, count)
    infant = msgspec.structs.replace(
        INFANTS[0],
        now_d=21.0,
        birth_weight_g=3400.0,
        weights=tuple(
            WeightReading(id=f"{k:02}", age_d=float(age), weight_g=float(3200 + 25 * age))
            for k, age in enumerate(ages)
        ),
    )
    np.testing.assert_allclose(
        told([infant], MANY, slice(0, 1)), one_by_one([infant], QUESTIONS[:1]), atol=1e-3
    )


def test_nobody_asked_nobody_answered():
    nobody = gathered(INFANTS).rows(np.array([], dtype=np.intp))
    nothing = ManyAsked(gain_limit_g_per_day=np.array([]), requirement_gain_g_per_day=np.array([]))
    found = preview_many(nobody, POPULATION, QUESTION, nothing)
    assert found.intake_ml_per_day.shape == (0, 7)
    assert found.intake_short_probability.shape == (0,)


def test_a_draw_without_a_finite_weight_is_never_taken():
    logs = np.zeros((1, 8))
    logs[0, 3] = np.nan
    copies = many._copies(logs)
    assert copies[0, 3] == 0
    assert copies.sum() == 8


def test_systematic_resampling_takes_each_draw_by_its_share():
    shares = np.array([0.25, 0.25, 0.125, 0.125, 0.0625, 0.0625, 0.0625, 0.0625])
    copies = many._copies(np.log(shares)[None])
    assert copies.sum() == 8
    assert np.all(np.abs(copies[0] - 8 * shares) < 1)
