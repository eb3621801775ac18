"""WHO 1-month weight gain against the printed lines and centiles.

Source: WHO growth velocity standards (2009), the printed tables of 1-month weight increments, boys
and girls (z-score lines -3 to 3; centiles 1 to 99), whole grams, in a transcription that is not the
one our L, M, S and shift come from: 24 intervals, 432 cells.

Known faults of the oracle: typed by hand by its author; whole grams (0.005 z near the median).
"""

from __future__ import annotations

import numpy as np
import pytest

from suffice.clinical.growth import velocity
from suffice.clinical.growth.centile import centile_of_z, z_of_centile
from suffice.knowledge.tables import growth_standards

LINES = (-3, -2, -1, 0, 1, 2, 3)
CENTILES = (1, 3, 5, 15, 25, 50, 75, 85, 95, 97, 99)
# fmt: off
BOYS_LINES = (
    (-160, 321, 694, 1023, 1325, 1608, 1876), (354, 615, 897, 1196, 1512, 1844, 2189),
    (178, 372, 585, 815, 1061, 1322, 1597), (44, 219, 411, 617, 837, 1069, 1313),
    (-45, 128, 318, 522, 738, 965, 1202), (-128, 40, 224, 422, 632, 853, 1083),
    (-183, -21, 161, 357, 565, 785, 1014), (-223, -63, 118, 316, 528, 752, 987),
    (-256, -98, 84, 285, 500, 729, 969), (-286, -128, 55, 259, 478, 711, 956),
    (-312, -153, 34, 243, 469, 710, 963), (-333, -172, 22, 239, 475, 726, 990),
)
GIRLS_LINES = (
    (123, 358, 611, 879, 1161, 1453, 1757), (251, 490, 744, 1011, 1290, 1580, 1880),
    (105, 297, 502, 718, 944, 1178, 1421), (14, 192, 383, 585, 796, 1016, 1244),
    (-62, 108, 293, 489, 695, 911, 1134), (-132, 31, 210, 401, 604, 815, 1036),
    (-185, -24, 153, 344, 547, 760, 982), (-224, -64, 116, 311, 519, 738, 967),
    (-259, -101, 77, 273, 482, 702, 933), (-286, -131, 48, 245, 456, 679, 913),
    (-307, -151, 31, 233, 451, 682, 924), (-324, -166, 22, 232, 458, 699, 953),
)
BOYS_CENTILES = (
    (182, 369, 460, 681, 805, 1023, 1229, 1336, 1509, 1575, 1697),
    (528, 648, 713, 886, 992, 1196, 1408, 1524, 1724, 1803, 1955),
    (307, 397, 446, 577, 658, 815, 980, 1071, 1228, 1290, 1410),
    (160, 241, 285, 403, 476, 617, 764, 845, 985, 1041, 1147),
    (70, 150, 194, 311, 383, 522, 666, 746, 883, 937, 1041),
    (-17, 61, 103, 217, 287, 422, 563, 640, 773, 826, 927),
    (-76, 0, 42, 154, 223, 357, 496, 573, 706, 758, 859),
    (-118, -43, -1, 111, 181, 316, 457, 535, 671, 724, 827),
    (-153, -77, -36, 77, 148, 285, 429, 508, 646, 701, 806),
    (-183, -108, -66, 48, 120, 259, 405, 486, 627, 683, 790),
    (-209, -132, -89, 27, 100, 243, 394, 478, 623, 680, 791),
    (-229, -150, -106, 15, 91, 239, 397, 484, 635, 695, 811),
)
GIRLS_CENTILES = (
    (280, 388, 446, 602, 697, 879, 1068, 1171, 1348, 1418, 1551),
    (410, 519, 578, 734, 829, 1011, 1198, 1301, 1476, 1545, 1677),
    (233, 321, 369, 494, 571, 718, 869, 952, 1094, 1150, 1256),
    (133, 214, 259, 376, 448, 585, 726, 804, 937, 990, 1090),
    (51, 130, 172, 286, 355, 489, 627, 703, 833, 885, 983),
    (-24, 52, 93, 203, 271, 401, 537, 611, 739, 790, 886),
    (-79, -4, 37, 146, 214, 344, 480, 555, 684, 734, 832),
    (-119, -44, -2, 109, 178, 311, 450, 526, 659, 711, 811),
    (-155, -81, -40, 70, 139, 273, 412, 489, 623, 675, 776),
    (-184, -110, -70, 41, 110, 245, 385, 464, 598, 652, 754),
    (-206, -131, -89, 24, 95, 233, 378, 459, 598, 653, 759),
    (-222, -145, -102, 15, 88, 232, 383, 467, 612, 670, 781),
)
# fmt: on
PRINTED = {
    (True, "lines"): BOYS_LINES,
    (False, "lines"): GIRLS_LINES,
    (True, "centiles"): BOYS_CENTILES,
    (False, "centiles"): GIRLS_CENTILES,
}


def z_of(kind: str) -> np.ndarray:
    return np.array(LINES, dtype=float) if kind == "lines" else z_of_centile(CENTILES)


@pytest.mark.parametrize(("is_male", "kind"), PRINTED)
def test_every_printed_gain_is_met_to_the_gram(is_male: bool, kind: str) -> None:
    printed = np.array(PRINTED[is_male, kind], dtype=float)
    months = np.arange(12)[:, np.newaxis]
    ours = velocity.gain_at_z(growth_standards().velocity, is_male, months, z_of(kind))
    assert np.abs(ours - printed).max() <= 0.505


@pytest.mark.parametrize(("is_male", "kind"), PRINTED)
def test_every_printed_gain_has_its_score_to_a_hundredth(is_male: bool, kind: str) -> None:
    printed = np.array(PRINTED[is_male, kind], dtype=float)
    months = np.arange(12)[:, np.newaxis]
    ours = velocity.gain_z(growth_standards().velocity, is_male, months, printed)
    assert np.abs(ours - z_of(kind)).max() < 0.01
    if kind == "centiles":
        assert np.abs(centile_of_z(ours) - CENTILES).max() < 0.15
