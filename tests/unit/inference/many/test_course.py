from __future__ import annotations

import numpy as np

from engine_setting import POPULATION
from suffice.inference.infant.model import LATENTS_COUNT, Birth, Course
from suffice.inference.many.course import ManyCourses

AGES = np.array([[0.0, 1.3, 4.0, 9.7, 14.2], [0.4, 2.0, 2.0, 13.0, 15.9]])
BORN = (3400.0, None)
BOY, CAESAREAN = (1.0, 0.5), (0.0, np.nan)
KNOTS = 5


def many():
    return ManyCourses.laid_out(
        POPULATION,
        at_d=AGES,
        knots=KNOTS,
        first_knot=LATENTS_COUNT,
        birth_weight_g=np.array(BORN, dtype=np.float64),
        boy=np.array(BOY),
        caesarean=np.array(CAESAREAN),
    )


def alone(which):
    share = POPULATION.caesarean_fraction if np.isnan(CAESAREAN[which]) else CAESAREAN[which]
    return Course(POPULATION, Birth(BORN[which], BOY[which], share), AGES[which], (), LATENTS_COUNT)


def test_each_course_is_that_of_the_infant_alone():
    courses = many()
    z = np.random.default_rng(3).standard_normal((2, courses.latents_count, 60))
    found = courses.paths(z)
    for which in range(2):
        paths = alone(which).paths(z[which].T)
        np.testing.assert_allclose(found.total[which].T, paths.total, rtol=1e-11)
        np.testing.assert_allclose(found.breast_ml_kg_d[which].T, paths.breast_ml_kg_d, rtol=1e-11)
        np.testing.assert_allclose(found.birth_kg[which, 0], paths.birth_kg[:, 0], rtol=1e-13)


def test_the_first_ages_alone_are_the_same_and_weight_is_in_grams():
    courses = many()
    z = np.random.default_rng(4).standard_normal((2, courses.latents_count, 30))
    whole, some = courses.paths(z), courses.paths(z, 3)
    np.testing.assert_allclose(some.total, whole.total[:, :3], rtol=1e-14)
    assert 1000 < np.median(whole.weight_g) < 6000


def test_rows_keep_what_belongs_to_all():
    courses = many().rows(np.array([1]))
    assert courses.population is POPULATION
    assert courses.birth_weight_g.shape == (1,)
    assert courses.latents_count == LATENTS_COUNT + KNOTS
