"""The written form of the demo caseload (caseload.toml), checked as it is read."""

from __future__ import annotations

from importlib.resources import files
from typing import Literal

import msgspec
import tomli

from suffice.clinical.entry import Basis, Setting, Sex

Mode = Literal["vaginal", "assisted vaginal", "caesarean"]
Milk = Literal["breast", "expressed", "donor", "formula"]


class _Written(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A table of the scenario; an unknown field is refused."""


class WrittenContact(_Written, frozen=True, kw_only=True):
    """A contact `ago_h` hours ago; the next is due `due_in_h` hours from now (negative: overdue)."""

    ago_h: float
    setting: Setting
    due_in_h: float | None = None


class WrittenExpression(_Written, frozen=True, kw_only=True):
    """An expression session."""

    ago_h: float
    left: float | None = None
    right: float | None = None
    minutes: float | None = None
    method: Literal["hand", "pump", "hand and pump"] | None = None
    since: float | None = None


class WrittenWeight(_Written, frozen=True, kw_only=True):
    """A weight of `g` grams at an age; `on` names the scale."""

    g: float
    age_h: float | None = None
    age_d: float | None = None
    on: str | None = None
    clothing: Literal["naked", "dry diaper", "clothed", "not asked"] = "naked"
    basis: Basis = Basis.MEASURED


class WrittenSize(_Written, frozen=True, kw_only=True):
    """A length and a head circumference at an age in days."""

    age_d: float
    length_cm: float
    head_cm: float


class WrittenCount(_Written, frozen=True, kw_only=True):
    """Wets or stools: one, or `count` over the `over_h` hours before."""

    ago_h: float
    count: int = 1
    over_h: float | None = None
    colour: Literal["black", "green", "brown", "yellow", "pale", "red"] | None = None
    amount: Literal["smear", "small", "large"] | None = None
    basis: Basis = Basis.OBSERVED


class WrittenTemperature(_Written, frozen=True, kw_only=True):
    """A temperature."""

    ago_h: float
    c: float
    site: Literal["axilla", "rectum", "ear", "forehead"] = "axilla"


class WrittenFeed(_Written, frozen=True, kw_only=True):
    """One feed."""

    ago_h: float
    milk: Milk
    side: Literal["left", "right", "both"] | None = None
    minutes: float | None = None
    ml: float | None = None


class WrittenDailyFeeds(_Written, frozen=True, kw_only=True):
    """`times` feeds of about `ml` a day between two ages."""

    milk: Milk
    ml: float
    times: int
    from_d: float
    to_d: float


class WrittenTestWeight(_Written, frozen=True, kw_only=True):
    """A test weight."""

    ago_h: float
    before: float
    after: float
    minutes: float | None = None
    same_clothes: bool | None = None


class WrittenIllness(_Written, frozen=True, kw_only=True):
    """An illness that the family's clinicians have named."""

    ago_h: float
    what: str


class WrittenSign(_Written, frozen=True, kw_only=True):
    """A sign of the vocabulary that is present, or was looked for and is absent."""

    ago_h: float
    sign: str
    present: bool = True
    began_ago_h: float | None = None


class WrittenMoodTotal(_Written, frozen=True, kw_only=True):
    """The total of a mood questionnaire in points, its item on self-harm answered with 'never'."""

    ago_h: float
    points: int


class WrittenParentCount(_Written, frozen=True, kw_only=True):
    """Pulse and breaths of the parent, a minute; None where it was not counted."""

    ago_h: float
    pulse: int | None = None
    breaths: int | None = None


class WrittenHandover(_Written, frozen=True, kw_only=True):
    """What was handed over `ago_h` hours ago; without a `flag` everything that was flagged then."""

    ago_h: float
    to: Literal["emergency service", "hospital", "physician", "midwife", "consultant", "other"]
    name: str | None = None
    how: Literal["phone", "in person", "message", "letter"] = "phone"
    asked: str | None = None
    flag: str | None = None
    answer_in_h: float | None = None


class WrittenAnswer(_Written, frozen=True, kw_only=True):
    """What a clinician answered."""

    ago_h: float
    who: Literal["physician", "hospital", "midwife", "other"]
    found: str
    flag: str | None = None


class WrittenKnown(_Written, frozen=True, kw_only=True):
    """What a physician knows of; they look again `next_in_h` hours from now."""

    ago_h: float
    flag: str
    who: Literal["physician", "hospital"]
    name: str | None = None
    next_in_h: float


class WrittenNote(_Written, frozen=True, kw_only=True):
    """Free text."""

    ago_h: float
    text: str


class WrittenCourse(_Written, frozen=True, kw_only=True):
    """A whole course of weights, for an infant whose age depends on the day of loading.

    `gains` lists (from day, g/day); weights are taken at the ages `weigh_h` that lie behind.
    """

    nadir_percent: float
    nadir_h: float
    gains: tuple[tuple[float, float], ...]
    weigh_h: tuple[float, ...]
    on: str


class WrittenInfant(_Written, frozen=True, kw_only=True):
    """An infant; birth is `age_h` or `age_d` before loading, or at a named moment."""

    name: str
    sex: Sex | None = None
    age_h: float | None = None
    age_d: float | None = None
    born: Literal["just before the last clock change"] | None = None
    born_after_min: float = 0.0
    gestation: str | None = None
    birth_weight_g: float | None = None
    birth_weight_basis: Basis = Basis.MEASURED
    mode: Mode | None = None
    fluids_ml: float | None = None
    multiple: int | None = None
    weights: tuple[WrittenWeight, ...] = ()
    sizes: tuple[WrittenSize, ...] = ()
    wets: tuple[WrittenCount, ...] = ()
    stools: tuple[WrittenCount, ...] = ()
    temperatures: tuple[WrittenTemperature, ...] = ()
    feeds: tuple[WrittenFeed, ...] = ()
    daily_feeds: tuple[WrittenDailyFeeds, ...] = ()
    test_weights: tuple[WrittenTestWeight, ...] = ()
    illnesses: tuple[WrittenIllness, ...] = ()
    signs: tuple[WrittenSign, ...] = ()
    handovers: tuple[WrittenHandover, ...] = ()
    answers: tuple[WrittenAnswer, ...] = ()
    known: tuple[WrittenKnown, ...] = ()
    notes: tuple[WrittenNote, ...] = ()
    course: WrittenCourse | None = None


class WrittenFamily(_Written, frozen=True, kw_only=True):
    """A family; `shows` says what the demo shows with it, and every parent is invented."""

    key: str
    shows: str
    parent: str
    infant: tuple[WrittenInfant, ...]
    contacts: tuple[WrittenContact, ...]
    expressions: tuple[WrittenExpression, ...] = ()
    temperatures: tuple[WrittenTemperature, ...] = ()
    signs: tuple[WrittenSign, ...] = ()
    mood_totals: tuple[WrittenMoodTotal, ...] = ()
    parent_counts: tuple[WrittenParentCount, ...] = ()
    illnesses: tuple[WrittenIllness, ...] = ()
    handovers: tuple[WrittenHandover, ...] = ()
    answers: tuple[WrittenAnswer, ...] = ()
    known: tuple[WrittenKnown, ...] = ()


class Service(_Written, frozen=True, kw_only=True):
    """The invented service: what the demo's policy is made of."""

    clinic_name: str
    zone: str
    phone_day: str
    phone_night: str
    emergency_number: str
    crisis_number: str


class Scenario(_Written, frozen=True, kw_only=True):
    """The whole demo caseload."""

    service: Service
    family: tuple[WrittenFamily, ...]


def scenario() -> Scenario:
    """The demo caseload as written, checked."""
    text = files("suffice.care.demo").joinpath("caseload.toml").read_text(encoding="utf-8")
    return msgspec.convert(tomli.loads(text), Scenario)
