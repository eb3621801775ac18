"""What figures and the engine's answers are called, once: on pages, papers, in findings and the shell.

Names begin with a small letter, as in a sentence; whoever heads a line with one says
:func:`suffice.language.text.upper_first`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from suffice.message import Amount, Message, Number, Words, message

FIGURES: Final[Mapping[str, Message]] = {
    "change_percent": message("change from birth weight"),
    "loss_percent": message("loss from birth weight"),
    "change_from_24h_percent": message("change from the 24-hour weight"),
    "nadir_h": message("age at the lowest weight"),
    "nadir_loss_percent": message("loss at the lowest weight"),
    "regain_h": message("back at birth weight at the age of"),
    "gain_g_per_day": message("gain used here"),
    "gain_g_per_kg_per_day": message("gain by weight"),
    "gain_last_g_per_day": message("gain between the last two weights"),
    "gain_since_nadir_g_per_day": message("gain since the lowest weight"),
    "requirement_ml_per_day": message("requirement by published tables"),
    "observed_ml_per_day": message("what infants of its age took: no requirement"),
    "requirement_kcal_per_day": message("energy requirement by published tables"),
    "share_met_percent": message("measured in 24 h, of the requirement by tables"),
    "transfer_ml": message("milk at the last test weight"),
    "transfers_24h_ml": message("milk at test weights in 24 h"),
    "milk_given_24h_ml": message("milk given in 24 h"),
    "feed_size_ml": message("usual size of a feed at this age"),
    "z": message("weight for age, z"),
    "centile": message("weight for age, centile"),
    "birth_z": message("birth weight, z"),
    "velocity_z": message("weight velocity, z"),
    "centile_fall_spaces": message("fall through centile spaces"),
    "length_z": message("length for age, z"),
    "head_z": message("head circumference for age, z"),
    "weight_for_length_z": message("weight for length, z"),
    "corrected_age_d": message("corrected age"),
    "wets_24h": message("wet diapers in 24 h"),
    "wets_24h_expected": message("wet diapers expected in 24 h"),
    "stools_24h": message("stools in 24 h"),
    "stools_24h_expected": message("stools expected in 24 h"),
    "temperature_c": message("last temperature"),
    "estimate": message("forecast"),
}
"""Key of a figure in an assessment to its name."""

GROUPS: Final[tuple[tuple[Message, tuple[str, ...]], ...]] = (
    (
        message("Weight"),
        (
            *("change_percent", "change_from_24h_percent", "nadir_h", "nadir_loss_percent"),
            *("regain_h", "gain_g_per_day", "gain_g_per_kg_per_day", "gain_last_g_per_day"),
            "gain_since_nadir_g_per_day",
        ),
    ),
    (
        message("Intake"),
        (
            *("requirement_ml_per_day", "observed_ml_per_day", "requirement_kcal_per_day"),
            "share_met_percent",
            *("transfer_ml", "transfers_24h_ml", "milk_given_24h_ml", "feed_size_ml"),
        ),
    ),
    (
        message("Growth"),
        (
            *("z", "centile", "birth_z", "velocity_z", "centile_fall_spaces", "length_z"),
            *("head_z", "weight_for_length_z", "corrected_age_d"),
        ),
    ),
    (message("Other"), ("temperature_c", "estimate")),
)
"""Figures that belong together, in the order in which they are read."""


def figure_name(key: str) -> Words:
    """What a figure is called; one without a name is called by its key."""
    return FIGURES.get(key, key)


def input_name(name: Words) -> Words:
    """What something that went into a working is called; a figure has the name it has elsewhere."""
    return FIGURES.get(name, name) if isinstance(name, str) else name


ANSWERS: Final[Mapping[str, Message]] = {
    "total_intake": message("intake in all"),
    "breast_intake": message("intake at the breast"),
    "requirement": message("requirement"),
    "share_of_requirement": message("share of the requirement"),
    "gain": message("gain now"),
    "present_weight": message("likely weight now"),
    "regain_age_d": message("back at birth weight"),
    "intake_short_probability": message("intake too low to gain {limit}"),
    "gain_below_limit_probability": message("gain below {limit}"),
    "not_regained_probability": message("birth weight not back by day {day}"),
    "least_difference_g": message("two weights on this scale differ by more than noise from"),
    "lost_more": message("infants of the model, of this age and mode, that have lost more"),
}
"""Key of an answer of the engine to its name; the names of some have a gap for what was asked."""

ALL_AT_THE_BREAST: Final = message("intake, all at the breast")
"""The intake in all where no milk is given beside the breast."""


def answer_name(key: str, *, gain_limit_g_per_day: float, regain_day: float) -> Message:
    """What an answer of the engine is called.

    Args:
        key: Its key.
        gain_limit_g_per_day: The gain that was asked about, g/day.
        regain_day: The day by which the birth weight should be back.
    """
    name = ANSWERS[key]
    if key in {"gain_below_limit_probability", "intake_short_probability"}:
        return name.with_params(limit=Amount(gain_limit_g_per_day, "g/d"))
    if key == "not_regained_probability":
        return name.with_params(day=Number(regain_day))
    return name


LIKELY: Final[tuple[tuple[float, Message], ...]] = (
    (0.05, message("very unlikely")),
    (0.33, message("unlikely")),
    (0.66, message("uncertain")),
    (0.95, message("likely")),
    (1.01, message("very likely")),
)
"""Below which probability (0 to 1) which word is said: a convention of speech."""


def likely_text(probability: float) -> Message:
    """A probability in a word."""
    return next(word for below, word in LIKELY if probability < below)
