"""A clinic's policy: how it reads and writes numbers, and which of our values it replaces.

A :class:`Policy` is immutable. Changing it appends a new version; old versions stay, so that it
can be said under which policy something was shown.

>>> policy = policy_from_settings({"zone": "Europe/Madrid", "weight_unit": "kg"}, load())
>>> content = policy.content_in_force(load())
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Annotated, Any, Literal

import msgspec

from suffice.clinical.reading.reading import LengthUnit, TemperatureUnit, VolumeUnit, WeightUnit
from suffice.clinical.zone import is_zone, no_zone
from suffice.errors import ContentError, InputError, Problem
from suffice.inference.evidence import Scale
from suffice.knowledge.clinic_site import ClinicSite
from suffice.knowledge.phones import PHONES
from suffice.knowledge.store import Content
from suffice.message import message

Language = Literal["en", "es"]
ParentWord = Literal["mother", "parent"]
DateOrder = Literal["day first", "month first", "year first"]
PaperSize = Literal["A4", "letter"]

CLINIC_NAME_LENGTH = 80
IDLE_LEAST_MIN = 2
IDLE_MOST_MIN = 12 * 60
"""A screen is locked at the latest when a long shift is over."""
RETENTION_MOST_YEARS = 100
"""A record is kept for a lifetime at most."""
PHONE_LENGTH = 40


class Policy(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The settings of one clinic.

    Attributes:
        clinic_name: The name that stands on pages and papers.
        phone_day: Number at which families and colleagues reach the clinic by day; empty where none was
            entered: papers then say so, and never name another.
        phone_night: The number for the night.
        emergency_number: The number of the emergency service there.
        crisis_number: The number of the crisis line there, for a parent who thinks of harm.
        paper_size: The sheet on which papers are printed.
        zone: IANA time zone in which instants are shown and typed.
        weight_unit: How weights are shown; every unit is accepted when typed.
        volume_unit: How volumes are shown.
        temperature_unit: How temperatures are shown.
        length_unit: How lengths are shown.
        language: Language of the interface.
        parent_word: The word for the parent.
        date_order: What stands first in a date.
        constants: Content key to the value that this clinic uses instead of ours, in our unit.
        choices: Name of a disagreement between sources to the key that this clinic chooses; the
            norm of wets and stools is one of them.
        engine_ranking: Whether the caseload is ranked by the engine's probabilities too.
        idle_min: After how many minutes without use a screen is locked.
        second_factor: Whether everybody must sign in with a passkey, or with a one-time code too.
        retention_years: How many years after its last entry a family may be erased; local law decides.
            None, as long as the clinic has not said so: then no family can be erased.
        scales: What is known of the clinic's scales, by the names under which weights are entered.
        site: What the clinic's own infants say of growth there; None while too few were seen.
        site_off: Whether forecasts leave that out.
    """

    clinic_name: str = "Clinic"
    phone_day: str = ""
    phone_night: str = ""
    emergency_number: str = ""
    crisis_number: str = ""
    paper_size: PaperSize = "A4"
    zone: str = "UTC"
    weight_unit: WeightUnit = "g"
    volume_unit: VolumeUnit = "mL"
    temperature_unit: TemperatureUnit = "C"
    length_unit: LengthUnit = "cm"
    language: Language = "en"
    parent_word: ParentWord = "parent"
    date_order: DateOrder = "day first"
    constants: dict[str, float] = {}
    choices: dict[str, str] = {}
    engine_ranking: bool = True
    idle_min: Annotated[int, msgspec.Meta(ge=IDLE_LEAST_MIN, le=IDLE_MOST_MIN)] = 30
    second_factor: bool = False
    retention_years: Annotated[int, msgspec.Meta(ge=0, le=RETENTION_MOST_YEARS)] | None = None
    scales: tuple[Scale, ...] = ()
    site: ClinicSite | None = None
    site_off: bool = False

    @property
    def site_in_use(self) -> ClinicSite | None:
        """What the clinic's own infants say, where forecasts use it."""
        return None if self.site_off else self.site

    def passed_over(self, content: Content) -> dict[str, float]:
        """The clinic's own values that are not in force, by key.

        A policy outlives content sets: a value that a set does not have, or of which it says that
        nobody can work with it, was kept by an earlier version of the program.
        """
        return {
            key: value
            for key, value in self.constants.items()
            if key not in content.flat or not content.limits(key).hold(value)
        }

    def content_in_force(self, content: Content) -> Content:
        """The content with this clinic's own values and choices in place of ours."""
        passed_over = self.passed_over(content)
        own = {key: value for key, value in self.constants.items() if key not in passed_over}
        return _in_force(content, tuple(sorted(own.items())), tuple(sorted(self.choices.items())))


class Clinic(msgspec.Struct, frozen=True, kw_only=True):
    """What every use case needs of the clinic.

    Attributes:
        policy: The policy in force.
        policy_version: Its number; 0 before one was ever entered.
        content: The content in force, the clinic's own values and choices in it.
    """

    policy: Policy
    policy_version: int
    content: Content

    @property
    def content_key(self) -> str:
        """What names the content in force: its version and a piece of its digest."""
        return f"{self.content.version}+{self.content.digest[:12]}"


@lru_cache(maxsize=8)
def _in_force(
    content: Content, constants: tuple[tuple[str, float], ...], choices: tuple[tuple[str, str], ...]
) -> Content:
    """Kept because assembling the content takes milliseconds and a policy rarely changes.

    What a policy says of a question that this set does not have is passed over.
    """
    asked = {
        name: key
        for name, key in choices
        if name in content.disagreements and key in content.disagreements[name].candidates
    }
    if constants:
        # Values outside the published range were confirmed when the policy was entered.
        content = content.with_overrides(dict(constants), force=True)
    return content.with_choices(asked) if asked else content


def policy_from_settings(
    settings: Mapping[str, Any], content: Content, *, confirmed: bool = False
) -> Policy:
    """A policy from plain settings, checked.

    Args:
        settings: Field name to value; a missing field takes its default.
        content: The content store, which knows the keys and ranges that may be replaced.
        confirmed: True when the reader has confirmed values outside the published range.

    Raises:
        InputError: POLICY-001 to POLICY-004, CLOCK-005, CONTENT-013, CONTENT-014 and CONTENT-025, all that
            are found.
    """
    known = {field.name: field for field in msgspec.structs.fields(Policy)}
    problems = [_unknown(name, list(known)) for name in settings if name not in known]
    for name, value in settings.items():
        if name in known:
            problems += _misfit(name, value, known[name].type)
    if problems:
        raise InputError(*problems)
    policy = msgspec.convert(dict(settings), Policy)
    problems = [*policy_problems(policy, content, confirmed=confirmed)]
    if problems:
        raise InputError(*problems)
    return policy


def policy_problems(policy: Policy, content: Content, *, confirmed: bool) -> Iterable[Problem]:
    """What is wrong with a policy's values, each at its field."""
    if not 1 <= len(policy.clinic_name.strip()) <= CLINIC_NAME_LENGTH:
        yield Problem(
            code="POLICY-003",
            what=message(
                "A clinic name of {count} characters", count=len(policy.clinic_name.strip())
            ),
            why=message("does not fit on pages and papers."),
            fix=message("Enter 1 to {most} characters.", most=CLINIC_NAME_LENGTH),
            where="clinic_name",
        )
    for name in PHONES:
        number: str = getattr(policy, name)
        if len(number) > PHONE_LENGTH or (number and not any(one.isdigit() for one in number)):
            yield Problem(
                code="POLICY-004",
                what=message("'{number}'", number=number[:PHONE_LENGTH]),
                why=message("is no number to call, and papers would print it as one."),
                fix=message(
                    "Enter a number of up to {most} characters, or leave it empty.",
                    most=PHONE_LENGTH,
                ),
                where=name,
            )
    if not is_zone(policy.zone):
        yield no_zone(policy.zone, where="zone")
    for key, value in policy.constants.items():
        try:
            content.with_overrides({key: value}, force=confirmed)
        except (ContentError, InputError) as error:
            yield from (problem.at(f"constants.{key}") for problem in error.problems)
    for name, key in policy.choices.items():
        try:
            content.with_choices({name: key})
        except (ContentError, InputError) as error:
            yield from (problem.at(f"choices.{name}") for problem in error.problems)


def _unknown(name: str, known: list[str]) -> Problem:
    return Problem(
        code="POLICY-001",
        what=message("'{name}'", name=name),
        why=message("is not a setting of the policy."),
        fix=message("Use one of {known}.", known=", ".join(known)),
        where=name,
    )


def _misfit(name: str, value: Any, kind: Any) -> list[Problem]:
    try:
        msgspec.convert(value, kind)
    except msgspec.ValidationError as error:
        return [
            Problem(
                code="POLICY-002",
                what=message("{value}", value=repr(value)),
                why=message(
                    "does not fit the setting {name}: {error}.", name=name, error=str(error)
                ),
                fix=message("Choose one of the values that the policy page offers."),
                where=name,
            )
        ]
    return []
