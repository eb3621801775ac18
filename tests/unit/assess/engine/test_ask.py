"""When the engine is asked, about which limit, and whether its answer speaks of this infant."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from growth_cohorts import PRIOR, REFERENCE, made_up_site
from people import BORN_AT
from spoken import in_sentences
from suffice.assess.engine.ask import (
    SKETCH_DRAWS_LEAST,
    Answer,
    ask,
    at_site,
    is_calm,
    knows_no_intake,
    limit_asked,
    review_answer,
    seed_of,
    speaks_of_intake,
)
from suffice.assess.parameters import parameters_of
from suffice.inference.estimate import Caution, Question, Suspect
from suffice.inference.evidence import Evidence, MilkGiven, TestWeighing, WeightReading
from suffice.inference.growth.site import pool_site, settle
from suffice.inference.infant.answer import answer
from suffice.inference.infant.birth_weight import unfit_caution
from suffice.inference.infant.population import Population
from suffice.knowledge.clinic_site import clinic_site
from suffice.knowledge.growth_forecast import growth_of
from suffice.knowledge.policy import Policy
from suffice.message import message
from unit.assess.review.reviewed import CONTENT, a_case, present, values

VALUES = {key: one.value for key, one in CONTENT.flat.items()}
PARAMETERS = parameters_of(CONTENT)
BOY = "boy, 39+0, 3500 g, vaginal"
WEIGHED = (WeightReading(id="w", age_d=8.0, weight_g=3350),)
REFUSED = Caution(code="x", severity="refusal", sentence=message("Not for this infant."))

UNFIT = unfit_caution(2900.0)


def told(**more):
    known = Evidence(now_d=9.0, birth_weight_g=3300, sex="female", gestation_days=280, **more)
    return answer(known, Population.from_constants(VALUES), Question.from_constants(VALUES), seed=1)


def test_without_anything_weighed_the_engine_speaks_of_the_population_only():
    assert knows_no_intake(told())
    given = (MilkGiven(id="m", age_d=8.9, volume_ml=30),)
    assert knows_no_intake(told(milk_given=given))


def test_a_weight_or_a_test_weight_speaks_of_this_infant():
    weight = (WeightReading(id="w", age_d=8.0, weight_g=3350),)
    assert not knows_no_intake(told(weights=weight))
    milk = (TestWeighing(id="t", age_d=8.9, transfer_g=60),)
    assert not knows_no_intake(told(test_weighings=milk))


def changed(**fields):
    return msgspec.structs.replace(told(weights=WEIGHED), **fields)


def question(limit):
    return msgspec.structs.replace(changed().question, gain_limit_g_per_day=limit)


def asked_of(infant, seen, asked_at):
    found = ask(a_case(infant, seen, asked_at), ()).estimate
    return limit_asked(CONTENT, found)


def test_the_limit_is_the_line_at_which_the_plain_rules_look():
    """WHO velocity, girls, 1-month increments, day 61 to 91: 5th centile 12.3 g/day."""
    limit = asked_of("girl, 40+0, 3400 g, vaginal", "48 d: 4700 g; 76 d: 5400 g", "77 d")
    assert round(limit.value, 1) == 12.3
    assert (limit.key, limit.unit) == ("gain.look_fraction", "g/d")
    assert limit.source == PARAMETERS.gain_lines.source.source
    of_both = asked_of("40+0, 3400 g, vaginal", "48 d: 4700 g; 76 d: 5400 g", "77 d")
    assert round(of_both.value, 1) == 14.9


def test_before_the_lines_it_is_that_of_the_first_weeks_and_before_that_the_engines_own():
    seen = "3 d: 3300 g; 13.9 d: 3500 g"
    assert asked_of(BOY, seen, "13.9 d").key == "gain.first_days_g_per_day"
    assert asked_of(BOY, "3 d: 3300 g", "5.9 d").key == "population.question_gain_limit"
    assert asked_of(BOY, "3 d: 3300 g", "6 d").key == "gain.first_days_g_per_day"


def test_before_term_it_is_that_of_infants_born_late_preterm():
    early = "boy, 35+0, 2400 g, vaginal"
    limit = asked_of(early, "3 d: 2280 g; 8 d: 2380 g", "9 d")
    assert (limit.key, limit.value) == ("gain.late_preterm_g_per_day", 20)
    assert asked_of(early, "3 d: 2280 g; 20 d: 2700 g", "21 d").key == "gain.look_fraction"


@pytest.mark.parametrize(
    ("weighed", "key"),
    [("13.9 d: 3500 g", "gain.first_days_g_per_day"), ("21 d: 3700 g", "gain.look_fraction")],
)
def test_the_age_of_the_last_weight_decides_and_not_that_of_the_question(weighed, key):
    """The lines hold from day 21 on; before, what is asked of the first weeks."""
    assert asked_of(BOY, weighed, "22 d").key == key


def test_it_speaks_of_intake_from_its_day_on_and_never_where_it_refuses():
    from_d = CONTENT.constant("ranking.likely_short_from_age_d").value
    assert speaks_of_intake(changed(age_d=from_d), CONTENT)
    assert not speaks_of_intake(changed(age_d=from_d - 0.01), CONTENT)
    assert not speaks_of_intake(changed(cautions=(REFUSED,)), CONTENT)
    assert not speaks_of_intake(told(), CONTENT)


def a_suspect(probability, reading_id="w"):
    return Suspect(
        reading_id=reading_id,
        probability=probability,
        reason="unexplained",
        residual_g=300.0,
        expected_g=3050.0,
        ask=message("Weigh again."),
    )


def test_a_sketch_is_calm_only_where_it_lies_a_margin_below_every_limit():
    margin = CONTENT.constant("ranking.sketch_margin_fraction").value
    short = CONTENT.constant("ranking.likely_short_fraction").value - margin
    wrong = CONTENT.constant("ranking.wrong_weight_fraction").value - margin
    from_d = CONTENT.constant("ranking.likely_short_from_age_d").value
    calm = {"age_d": from_d, "intake_short_probability": short - 0.001, "suspects": ()}
    assert is_calm(changed(**calm), CONTENT)
    assert not is_calm(changed(**calm | {"intake_short_probability": short}), CONTENT)
    early = {"intake_short_probability": 0.99, "age_d": from_d - 0.01}
    assert is_calm(changed(**calm | early), CONTENT)
    assert not is_calm(changed(**calm | {"suspects": (a_suspect(wrong),)}), CONTENT)
    assert is_calm(changed(**calm | {"suspects": (a_suspect(wrong - 0.001),)}), CONTENT)
    doubtful = {"cautions": (REFUSED,), "suspects": (a_suspect(0.99),)}
    assert is_calm(changed(**calm | doubtful), CONTENT)


@pytest.mark.parametrize("code", ["mostly-given-milk", "milk-not-measured"])
def test_a_sketch_that_refuses_for_the_share_of_milk_given_is_judged_as_any_other(code):
    # The full answer may find the share just below the limit, and then says what it doubts.
    refused = (msgspec.structs.replace(REFUSED, code=code),)
    from_d = CONTENT.constant("ranking.likely_short_from_age_d").value
    calm = {"age_d": from_d, "intake_short_probability": 0.0, "cautions": refused}
    assert is_calm(changed(**calm, suspects=()), CONTENT)
    assert not is_calm(changed(**calm, suspects=(a_suspect(0.86),)), CONTENT)


def test_a_sketch_of_too_few_effective_draws_is_not_calm():
    estimate = changed(intake_short_probability=0.0, suspects=())
    for draws, calm in ((SKETCH_DRAWS_LEAST, True), (SKETCH_DRAWS_LEAST - 0.1, False)):
        few = msgspec.structs.replace(estimate.diagnostics, effective_draws=draws)
        assert is_calm(msgspec.structs.replace(estimate, diagnostics=few), CONTENT) == calm


def test_the_seed_follows_what_was_seen_and_not_the_clock():
    seen = Evidence(now_d=9.0, birth_weight_g=3300)
    assert seed_of(seen) == seed_of(msgspec.structs.replace(seen, now_d=10.0))
    assert seed_of(seen) != seed_of(msgspec.structs.replace(seen, birth_weight_g=3301))


@pytest.mark.parametrize(
    ("infant", "asked_at"),
    [("nobody knows", "9 d"), (BOY, f"{VALUES['population.age_limit_d'] + 1} d")],
)
def test_it_is_not_asked_without_a_birth_or_past_its_age_and_says_so(infant, asked_at):
    case = a_case(infant, "8 d: 3600 g", asked_at)
    answer = ask(case, ())
    assert answer.estimate is None
    assert review_answer(case, answer).not_computed == {"estimate": answer.why_not}


def reviewed(estimate):
    case = a_case(BOY, "8 d: 3350 g", "9 d")
    return review_answer(case, Answer(estimate))


def test_the_full_answer_for_a_rank_leaves_out_what_no_rank_reads():
    case = a_case(
        "girl, 40+0, 3500 g, vaginal", "3 d: 3260 g; 8 d: 60 mL formula; 9 d: 3150 g", "9.1 d"
    )
    whole, short = (ask(case, (), for_rank=for_rank).estimate for for_rank in (False, True))
    kinds = [{one.kind for one in estimate.influences} for estimate in (whole, short)]
    assert kinds[0] - kinds[1] == {"milk given"}
    assert whole.diagnostics.growth_log_density is not None
    assert short.diagnostics.growth_log_density is None
    assert short.intake_short_probability == whole.intake_short_probability
    assert (short.total_intake, short.requirement) == (whole.total_intake, whole.requirement)


def test_a_doubtful_weight_is_put_before_the_table_with_its_entry():
    case = a_case(BOY, "8 d: 3350 g", "9 d")
    weighing = case.weighings[-1]
    review = reviewed(changed(suspects=(a_suspect(0.8, str(weighing.entry_id)),)))
    assert values(review) == {"weight_wrong_fraction": [0.8]}
    (found,) = review.measures["weight_wrong_fraction"]
    assert (found.entry_ids, found.age_h) == ((weighing.entry_id,), weighing.age_h)


def test_a_doubt_about_a_weight_that_is_not_there_any_more_is_left_out():
    review = reviewed(changed(suspects=(a_suspect(0.8, "gone"),)))
    assert values(review) == {}


def test_a_refusal_is_a_sign_and_its_doubts_are_not_told():
    note = msgspec.structs.replace(REFUSED, severity="note")
    review = reviewed(changed(cautions=(note, REFUSED), suspects=(a_suspect(0.8),)))
    assert present(review) == {"engine_refuses"}
    assert [one.says for one in review.signs["engine_refuses"]] == [(REFUSED.sentence,)]
    assert values(review) == {}


@pytest.mark.parametrize("more", [(), (REFUSED,)], ids=["answered", "refused"])
def test_a_birth_weight_that_is_left_out_is_put_before_the_table_with_its_entry(more):
    case = a_case(BOY, "8 d: 3350 g", "9 d")
    review = review_answer(case, Answer(changed(cautions=(*more, UNFIT), suspects=())))
    (found,) = review.signs["birth_weight_looks_wrong"]
    assert found.says == (UNFIT.sentence,)
    assert found.entry_ids == (case.weighings[0].entry_id,)


def test_a_sketch_without_the_birth_weight_settles_nothing():
    estimate = changed(intake_short_probability=0.0, suspects=(), cautions=())
    assert is_calm(estimate, CONTENT)
    assert not is_calm(msgspec.structs.replace(estimate, cautions=(UNFIT,)), CONTENT)


def ended(share: float) -> Caution:
    return Caution(
        code="milk-not-written",
        severity="caution",
        sentence=message("Nothing is written."),
        params={"until_d": 7.0, "share": share},
    )


@pytest.mark.parametrize("more", [(), (REFUSED,)], ids=["answered", "refused"])
def test_much_milk_that_is_no_longer_written_down_is_asked_for(more):
    review = reviewed(changed(cautions=(*more, ended(0.3)), suspects=()))
    assert "milk_log_ended" in present(review)
    (told,) = review.signs["milk_log_ended"]
    assert "Ask whether it is still given" in in_sentences(told.says[0])


@pytest.mark.parametrize(("share", "is_asked"), [(0.08, False), (0.1, True)])
def test_from_a_feed_s_worth_a_day_on_milk_that_is_no_longer_written_down_is_asked_for(
    share, is_asked
):
    review = reviewed(changed(cautions=(ended(share),), suspects=()))
    assert ("milk_log_ended" in present(review)) is is_asked


def test_without_an_answer_nothing_is_put_before_the_table():
    review = reviewed(None)
    assert (review.signs, review.measures, review.not_computed) == ({}, {}, {})


def test_the_clinics_own_site_is_used_where_it_was_learned_of_the_prior_in_force():
    growth = growth_of(CONTENT)
    pool = pool_site(PRIOR, REFERENCE, made_up_site(20, shift_g_per_day=5.0))
    site = clinic_site(pool, growth.prior, weights_count=100, learned_at=BORN_AT)
    moved = at_site(growth, Policy(site=site))
    assert moved.shift is not None
    np.testing.assert_allclose(moved.shift.mean, settle(pool).mean)
    other = msgspec.structs.replace(site, prior="another")
    for policy in (Policy(), Policy(site=site, site_off=True), Policy(site=other)):
        assert at_site(growth, policy) is growth
