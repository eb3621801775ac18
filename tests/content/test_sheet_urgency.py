"""How soon a family's paper says to act, beside how soon the flag of the same sign says it.

A family that reads 'today' where the table of flags has a physician within six hours is sent too late; one
that reads 'now' for what waits until next week is frightened. Each sentence of a sheet, and each line of the
box on help, that names a sign is held against the flags of that sign.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

import pytest

from plan_case import a_weight, counts, proposed
from suffice.assess.fever_stage import STAGES
from suffice.documents.help_box import at_once, by_phone_now, crisis, see_today
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of
from suffice.message import Words

CONTENT = load()
POLICY = Policy(crisis_number="555-0177")
FLAGS = {row.code: row for row in CONTENT.flags}
NOW_H, DAY_H = 1.0, 24.0
LEVEL_H: Final = {"emergency": NOW_H, "physician": DAY_H, "consultant": DAY_H}
"""How soon a flag is acted on that says no hours of its own."""
STEPS_H: Final = (NOW_H, 6.0, DAY_H, 3 * DAY_H, 14 * DAY_H)
"""What one step of urgency is."""
SOON: Final = (
    (r"\bnow\b|\bat once\b|within the hour", NOW_H),
    (r"\{hours\} hours|within 6 hours", 6.0),
    (r"\btoday\b|\btomorrow\b|\{again\} hours", DAY_H),
    (r"\bthis week\b|\bin a week\b", 7 * DAY_H),
)
SIGNS: Final = {
    "jaundice": r"skin (turns|looks) yellow|level checked|yellow skin",
    "jaundice-first-day": r"yellow on the first day|yellow skin.*first day",
    "jaundice-palms": r"palms look yellow",
    "hard-to-wake": r"hard to wake for feeds",
    **dict.fromkeys(["hard-to-wake-not-feeding", "jaundice-ill"], r"too sleepy to feed"),
    "not-rousable": r"will not wake",
    "no-feeding": r"no milk at all|will not feed",
    "fit": r"\bfit\b",
    "blue": r"\bblue\b",
    "limp": r"\blimp\b",
    "moves-little": r"\blimp\b",
    "grey-or-mottled": r"blue or gray",
    **dict.fromkeys(
        ["grunting", "chest-drawn-in", "fast-breathing", "breathing-stops", "turn-now-over"],
        r"fights for breath",
    ),
    "fever": r"fever of 38.0 °C or more, or (is cold|cold)|first 3 months: a fever of 38.0",
    **dict.fromkeys(
        ["fever-after-three-months", "fever-for-days"],
        r"fever of 39.0 °C or more, or any (fever )?for 5",
    ),
    "fever-after-six-months": r"fever of 40.0 °C or more",
    "vomit-green": r"throws up green|green vomit|green or bloody vomit",
    "belly-swollen": r"hard belly|swollen belly",
    "high-cry": r"\bcry is high\b|\ba high or a weak cry\b",
    "weak-cry": r"\bor weak\b|\ba high or a weak cry\b",
    "blisters": r"is ill, has blisters",
    "blood-in-stool": r"blood in a diaper",
    **dict.fromkeys(["blood-in-stool-ill", "red-stool-ill"], r"blood with green vomit"),
    "pale-stool": r"white or gray stool",
    "dry-day": r"no wet diaper in (a whole day|24 h)",
    "parent-fever": r"\b(you have|for) a fever\b|call a doctor within the hour|parent: a fever",
    "very-ill": r"feel very ill",
    "breast-red": r"red, hot breast|red, hot or hard|breast turns red|red part grows|a red breast",
    "breast-lump": r"\bcall today for a lump\b",
    "bleeding-soaks": r"bleed a lot|heavy bleeding",
    "headache": r"bad headache",
    "chest-pain": r"chest pain|hard to breathe, or is the pain in the middle",
    "parent-fit": r"\bfaint\b",
    "confused": r"\bconfused\b",
    "parent-mottled": r"skin is blotchy",
    "self-harm": r"(?<!say: )think of (harm|hurting)|thoughts of harm",
    "self-harm-plan": r"(?<!say: )think of (harm|hurting)",
    "parent-fever-and-ill": r"shake with cold",
    "low-mood": r"(if )?you feel low",
    "foul-loss": r"bad smell",
    "bleeding-again": r"new blood",
}
"""Code of a flag to the words by which families are told of its sign."""
LOUDER: Final = {
    ("lump_drain", "very-ill"): "with pus in a breast it may be sepsis",
}
"""Where a paper is more than a step louder than the flag, and why."""


class Said(NamedTuple):
    where: str
    text: str
    within_h: float | None


def spoken(words: Words) -> str:
    """What a line says, its stars and spaces apart."""
    return text_of(words, POLICY).replace("\N{NO-BREAK SPACE}", " ")


def soon_of(text: str) -> float | None:
    """The most urgent time that a sentence names."""
    found = [hours for pattern, hours in SOON if re.search(pattern, text, re.IGNORECASE)]
    return min(found, default=None)


def said() -> Iterator[Said]:
    """Each sentence of a family's sheets that names a time, and the lines of the box on help by their heading."""
    for key, sheet in CONTENT.sheets.items():
        for fact in sheet.facts():
            soon = None
            for sentence in re.split(r"(?<=[.?!]) ", fact.says.replace("*", "")):
                soon = soon_of(sentence) or ("too" in sentence.split() and soon) or None
                if soon is not None or fact is sheet.call:
                    yield Said(key, sentence, soon)
    for stage in (*STAGES, None):
        for line in (*at_once(CONTENT, stage), crisis(POLICY), *by_phone_now(CONTENT)):
            yield Said("at_once", spoken(line), NOW_H)
        for line in see_today(CONTENT, stage):
            yield from (
                Said("see_today", one, soon_of(one) or DAY_H)
                for one in re.split(r"(?<=\.) ", spoken(line))
            )
    for line in proposed(a_weight(3600, 10), *counts(10), day=10).calls:
        yield Said("plan", spoken(line), soon_of(spoken(line)))


SAID = tuple(said())


def due_h(code: str) -> float:
    """How soon a flag has somebody act."""
    row = FLAGS[code]
    return row.within_h if row.within_h is not None else LEVEL_H[row.level]


def step(hours: float) -> int:
    return next(place for place, most in enumerate(STEPS_H) if hours <= most)


def of_sign(code: str) -> list[Said]:
    return [one for one in SAID if re.search(SIGNS[code], one.text, re.IGNORECASE)]


@pytest.mark.parametrize("code", SIGNS)
def test_a_family_is_never_sent_later_than_the_flag_says(code: str) -> None:
    found = of_sign(code)
    assert found, "no paper names it: the words of SIGNS are not those of the papers"
    late = [one for one in found if one.within_h is None or one.within_h > due_h(code)]
    assert late == []


def test_nor_more_than_a_step_sooner_without_a_reason() -> None:
    loud = {
        (one.where, code)
        for code in SIGNS
        for one in of_sign(code)
        if one.within_h is not None and step(one.within_h) < step(due_h(code)) - 1
    }
    assert loud == set(LOUDER)


def test_the_time_for_bilirubin_is_the_one_of_its_flags() -> None:
    sheet = CONTENT.constant("teaching.jaundice_test_h").value
    assert {
        FLAGS[code].within_h for code in ("jaundice", "jaundice-and-loss", "bilirubin-not-read")
    } == {sheet}


UNSEEN: Final = {
    "loss-extreme": "a weight",
    "loss-severe": "a weight",
    "hard-to-wake-and-loss": "a weight; each sign has its line",
    "fontanelle-sunken-and-dry": "a soft spot that no family is asked to feel",
    "strange-beliefs": "whoever has them does not see them so; the whole sheet says to call now",
}
"""Emergencies that a sheet may stand with and no family is told to look for, and why."""


def test_every_emergency_that_a_sheet_may_stand_with_is_told_or_cannot_be_seen() -> None:
    """A sheet goes with problems, and they name flags."""
    named = {
        code
        for sheet in CONTENT.sheets.values()
        for problem in sheet.goes_with
        for code in CONTENT.guide.problems[problem].flags
        if FLAGS[code].level == "emergency"
    }
    assert named - set(SIGNS) == set(UNSEEN)
