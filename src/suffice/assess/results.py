"""What an assessment says: immutable results, computed from (record, as-of, content, policy).

Nothing here is stored as truth. Pages, papers, the command line and the caseload all read these.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from enum import IntEnum
from typing import Final, Literal
from uuid import UUID

import msgspec

from suffice.clinical.entry import Setting, Sex
from suffice.clinical.milk.observed_intake import View
from suffice.clinical.working import Figure, Working
from suffice.inference.estimate import Estimate
from suffice.inference.evidence import Evidence, Mode
from suffice.knowledge.schema import Colour, FlagTopic, Judged, Level
from suffice.message import Day, Message, Words, message


class Tier(IntEnum):
    """The groups of the caseload, most urgent first: each says by when somebody acts."""

    NOW = 0
    TODAY = 1
    HANDED_OVER = 2
    WITHIN_A_DAY = 3  # the place of the group, no number of days
    NOT_KNOWN = 4
    LOOK_AGAIN = 5
    SETTLED = 6


class HandedOver(msgspec.Struct, frozen=True, kw_only=True):
    """A finding was handed over, or answered and not ended by that.

    Attributes:
        at: When it was handed over.
        says: To whom, when, and by when an answer is due, in a sentence.
        briefly: The same without when, for the reason of a rank; empty where `says` is short already.
        asked: What was asked, as typed.
        answer_by: By when an answer is due; None once there is one.
        is_late: Whether that time has come without an answer.
        holds: Whether it stands behind those whom nobody has taken: not where the answer is late,
            nor where what needs a physician was answered by somebody else.
    """

    at: datetime
    says: Words
    holds: bool
    asked: str = ""
    answer_by: datetime | None = None
    is_late: bool = False
    briefly: Words = ""


class KnownSince(msgspec.Struct, frozen=True, kw_only=True):
    """A physician has known of a finding since `at`; from `until` on it is asked how it went."""

    at: datetime
    until: datetime


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """Something that the entries show.

    Attributes:
        code: Stable name such as ``loss-at-limit``.
        level: How urgent it is.
        colour: How it is shown: 'red', 'amber' or 'note'.
        topic: What it is about.
        judged: What it says where milk is judged.
        name: What is found, in a few words.
        at: When what it rests on was true; None where it has no one time.
        due_at: From when it counts as late that nobody has acted; None where nothing says so.
        has_own_time: Whether its row names those hours itself, so that being late is said of a red one too.
        is_left: Whether it is a look that leaves few hours, and long past due.
        messages: The finding for the consultant, with its numbers and times: one sentence, and what
            follows it.
        infant_id: Whose finding; None for the parent or the family.
        working: How it was computed, where it was computed.
        excess_fraction: How far beyond the limit, as a share of the limit; 0 where there is none.
        to_whom: Who else must know, and how soon; empty where the content names nobody.
        clears: What ends it.
        get_help: Whom to phone or where to go, of an emergency that a chosen sign tells.
        until_help: What to do until help comes.
        entry_ids: The entries that it rests on.
        degrees: Name of what it rests on to how bad that is, the greater the worse; of what is a matter
            of degree.
        noted_ids: The entries of the rest of what it rests on: what is there or not.
        handed_over: Who has taken it over; None where nobody has.
        known: Since when a physician knows of it; None where that does not count.
    """

    code: str
    level: Level
    colour: Colour
    topic: FlagTopic
    messages: tuple[Words, ...]
    judged: Judged = "nothing"
    name: Words = ""
    at: datetime | None = None
    due_at: datetime | None = None
    has_own_time: bool = False
    is_left: bool = False
    infant_id: UUID | None = None
    working: Working | None = None
    excess_fraction: float = 0.0
    to_whom: Words = ""
    clears: Words = ""
    get_help: Words = ""
    until_help: Words = ""
    entry_ids: tuple[UUID | None, ...] = ()
    degrees: Mapping[str, float] = {}
    noted_ids: tuple[UUID, ...] = ()
    handed_over: HandedOver | None = None
    known: KnownSince | None = None


class WeightRow(msgspec.Struct, frozen=True, kw_only=True):
    """One weight with all that is computed from it; None where it cannot be computed."""

    entry_id: UUID
    at: datetime
    age_h: float
    weight_g: float
    change_percent: float | None = None
    change_from_24h_percent: float | None = None
    z: float | None = None
    centile: float | None = None
    standard: str = ""
    clothing: str | None = None
    feed_state: str | None = None
    scale: str | None = None
    p_wrong: float | None = None


class WeighAgain(msgspec.Struct, frozen=True, kw_only=True):
    """When to weigh again, and why: the one date that is said of an infant.

    Attributes:
        by: What named it: a weight that is overdue, the engine, or the plain rule of two weights.
        on: The clinic's local date; the date of the question for 'now', that of the planned contact
            where the advice names it; None where no date to come is named.
        advice: What to do, in a sentence or several.
        reason: Why, in the next; empty where the advice says it.
        briefly: What follows a finding that cannot tell a gain.
        working: How it was computed.
    """

    by: Literal["overdue", "engine", "rule"]
    on: date | None
    advice: tuple[Words, ...]
    reason: Words
    briefly: Words
    working: Working | None = None

    @property
    def messages(self) -> tuple[Words, ...]:
        """The advice with its reason."""
        return (*self.advice, self.reason) if self.reason else self.advice


class EngineFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The facts of an infant that decide which of the model's values its answer rests on.

    Attributes:
        mode: Mode of delivery; None when not known: then the values of both modes count.
        fluids_ml: Intravenous fluids in labour, mL; None when not known.
        milk_given_count: How often milk was given beside the breast, up to the question.
        is_day_weighed: Whether every feed of a day was weighed.
        divided_gain_g_per_day: Gain between the last two weights, by division; None without it.
        weighed_day_ml: What the test weights of the last day add up to in which every feed was
            weighed; None without one.
    """

    mode: Mode | None = None
    fluids_ml: float | None = None
    milk_given_count: int = 0
    is_day_weighed: bool = False
    divided_gain_g_per_day: float | None = None
    weighed_day_ml: float | None = None

    @classmethod
    def from_evidence(cls, evidence: Evidence, divided: Figure | None = None) -> EngineFacts:
        """Those of the evidence that the engine was given, and the gain by division."""
        days = [one for one in evidence.test_weighings if one.whole_day]
        last = max(days, key=lambda one: (one.age_d, one.id), default=None)
        return cls(
            divided_gain_g_per_day=divided.value if divided else None,
            weighed_day_ml=last.transfer_g if last else None,
            mode=evidence.mode,
            fluids_ml=evidence.intrapartum_fluids_ml,
            milk_given_count=len(evidence.milk_given),
            is_day_weighed=any(one.whole_day for one in evidence.test_weighings),
        )


VerdictKind = Literal[
    "not enough", "probably not enough", "cannot tell", "not known", "usual", "probably enough", "enough",
]  # fmt: skip
"""Whether an infant gets enough milk; 'usual' is said before the age from which intake is judged."""
REASSURING: Final[frozenset[VerdictKind]] = frozenset({"usual", "probably enough", "enough"})


class Act(msgspec.Struct, frozen=True, kw_only=True):
    """The one next thing to do, with its time.

    Attributes:
        says: Who does what by when.
        tier: How urgent it is: the group that it leads to on the caseload.
        code: The finding that asks for it; empty where none does.
    """

    says: Words
    tier: Tier
    code: str = ""


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """Rules and engine as one judgement: does this infant get enough milk, and what is done next.

    Attributes:
        kind: The judgement; it is about milk alone.
        headline: The judgement in one line, with what it rests on; where the infant is unwell this
            says so too.
        joins: How what contradicts it goes together with it, in sentences.
        act: The one next thing to do.
        then: When to weigh after that; empty where the act says it or nothing names it.
        is_unwell: Whether a sign of illness stands that is more than something to look at.
    """

    kind: VerdictKind
    headline: Words
    act: Act
    joins: tuple[Words, ...] = ()
    then: Words = ""
    is_unwell: bool = False

    @property
    def is_acted_on_first(self) -> bool:
        """Whether somebody acts before the next weight is taken: something red that nobody has taken over."""
        return self.act.tier in {Tier.NOW, Tier.TODAY}

    @property
    def reassures(self) -> bool:
        """Whether a reader may take it for 'all is well'."""
        return self.kind in REASSURING and not self.is_unwell


HAS_DIED: Final = message("has died")
"""What stands where the age of a living infant does."""
TWO_THINGS: Final = message(
    "One entry says that this infant has died, a later one does not: check which is right."
)
"""What is said of an infant that has died by one entry and was weighed, fed or seen after that by another."""


class Died(msgspec.Struct, frozen=True, kw_only=True):
    """That an infant has died.

    Attributes:
        at: When, or when the parent said so.
        on: The local day of it, by the clinic's clock.
        entry_id: The entry that says it.
        is_said_by_parent: Whether only the parent's reason to stop lactation says it.
    """

    at: datetime
    on: date
    entry_id: UUID
    is_said_by_parent: bool = False

    @property
    def says(self) -> Message:
        """That it has died, with the day."""
        if self.is_said_by_parent:
            return message("Has died; the family said so on {day}.", day=Day(self.on))
        return message("Has died, {day}.", day=Day(self.on))


class InfantAssessment(msgspec.Struct, frozen=True, kw_only=True):
    """All that is computed for one infant as of an instant.

    `figures` is keyed by stable names; `not_computed` says, for a missing one, why in a sentence:

    - weight: ``change_percent``, ``loss_percent`` (positive when lost), ``change_from_24h_percent``,
      ``nadir_h``, ``nadir_loss_percent``, ``regain_h``;
    - gain, each with its interval: ``gain_last_g_per_day`` (the last two weights),
      ``gain_since_nadir_g_per_day``, ``gain_g_per_day`` (the one that is judged),
      ``gain_g_per_kg_per_day``;
    - growth: ``z``, ``centile``, ``birth_z``, ``velocity_z``, ``centile_fall_spaces``, ``length_z``,
      ``head_z``, ``weight_for_length_z``, ``corrected_age_d``;
    - milk: ``requirement_kcal_per_day``, ``requirement_ml_per_day``, ``observed_ml_per_day`` (what
      infants of its age took, where no requirement holds), ``feed_size_ml``,
      ``share_met_percent`` (of what was measured), ``milk_given_24h_ml``, ``transfer_ml`` (the
      latest test weight), ``transfers_24h_ml``;
    - output: ``wets_24h``, ``stools_24h`` (value and low: certain; high: possible),
      ``wets_24h_expected``, ``stools_24h_expected``; ``temperature_c``.

    `needs` holds every source's answer to how much a day, refusals included. `findings` are in
    order of urgency. `weigh_again` is the one date to weigh again; None where nothing names one, and
    where only the rank was asked for and the engine was content with a sketch. `agreement` joins, in one
    sentence, what the rules and the engine say where they point different ways; empty where they do not.
    `weight_stands_until` is when the last weight will be too old to be calm by, `counts_stand_until` the same of
    wets, stools and feeds; None where that is past, or never comes. `unasked` names what nobody asked
    about the time of the last weight, of an infant past its first week: ``output``, ``feeds``. `is_gain_since_birth` says
    that the gain that is judged is counted from birth weight. `engine_facts` name the values on which `estimate` rests. `age_days` counts completed days of elapsed
    time. `verdict` joins all of it into one judgement; None before it is passed, and of an infant that has
    died: `died` says so, its age is that at its death, and nothing is found, asked, computed or planned of it.
    `death_doubt` says that an entry says so and a later one does not: it is then assessed as living.
    """

    infant_id: UUID
    position: int
    name: Words
    born_at: datetime | None
    zone: str
    sex: Sex | None
    age_h: float | None
    age_days: int | None
    gestation_days: int | None
    corrected_age_days: int | None
    birth_weight_g: float | None
    weights: tuple[WeightRow, ...] = ()
    figures: Mapping[str, Figure] = {}
    is_gain_since_birth: bool = False
    not_computed: Mapping[str, Words] = {}
    findings: tuple[Finding, ...] = ()
    estimate: Estimate | None = None
    engine_facts: EngineFacts = EngineFacts()
    weigh_again: WeighAgain | None = None
    weight_stands_until: datetime | None = None
    counts_stand_until: datetime | None = None
    unasked: tuple[str, ...] = ()
    needs: tuple[View, ...] = ()
    agreement: Words = ""
    verdict: Verdict | None = None
    died: Died | None = None
    death_doubt: Words = ""

    @property
    def usable_weights(self) -> tuple[WeightRow, ...]:
        """The weights that loss and gain rest on, by age: clothes hide a loss and make up a gain."""
        return tuple(row for row in self.weights if row.clothing != "clothed")


DUE_FROM: Final = datetime(2000, 1, 1, tzinfo=UTC)
"""From when the hours are counted at which something is due."""


class Urgency(msgspec.Struct, frozen=True, kw_only=True):
    """What orders families within a group, from the part that weighs most to the one that breaks ties.

    Attributes:
        is_taken: Whether somebody has taken it over: behind equals whom nobody has taken.
        due_h: When it is to be done. Where the group leaves time: 0 for what is late, else hours since
            `DUE_FROM`, and behind all that have a time what has none. Else the hours that the row gives.
        rule_place: Place of the most urgent flag among the rows of the table, the first is 0; that of
            a reason which is no row lies behind them all.
        excess_fraction: How far that flag lies beyond its limit, as a share of the limit.
        flag_count: How many flags of that group there are.
        short_probability: The engine's probability that intake is short; 0 where it has no part.
        overdue_h: How long the next contact has been due.
        age_h: Age; the younger stands first.
    """

    is_taken: bool = False
    due_h: float = 0.0
    rule_place: int = 0
    excess_fraction: float = 0.0
    flag_count: int = 0
    short_probability: float = 0.0
    overdue_h: float = 0.0
    age_h: float = 0.0

    @property
    def order(self) -> tuple[float, ...]:
        """The parts as numbers, of which the smaller comes first: this is what a caseload row keeps."""
        return (
            float(self.is_taken),
            self.due_h,
            float(self.rule_place),
            0.0 - self.excess_fraction,
            0.0 - self.flag_count,
            0.0 - self.short_probability,
            0.0 - self.overdue_h,
            self.age_h,
        )


class Rank(msgspec.Struct, frozen=True, kw_only=True):
    """Where a family stands on the caseload and why."""

    tier: Tier
    urgency: Urgency
    reason: tuple[Words, ...]

    @property
    def order(self) -> tuple[float, ...]:
        """The place within the group, as a caseload row keeps it."""
        return self.urgency.order

    @property
    def sort_key(self) -> tuple[int, tuple[float, ...]]:
        """By which families are compared: the group, then the place within it."""
        return (int(self.tier), self.order)


class FamilyAssessment(msgspec.Struct, frozen=True, kw_only=True):
    """All that is computed for a family as of an instant.

    `valid_until` is the instant from which time alone, without a new entry, may change a finding or
    the rank; the engine's probabilities are held to move little until then. `parent_act` is what is
    done next about the parent; None where nothing asks for it. `parent_act_on_paper` is the same where
    no private matter is named.
    """

    family_id: UUID
    name: Words
    setting: Setting | None
    as_of: datetime
    valid_until: datetime
    content_version: str
    engine_version: str
    next_due_at: datetime | None
    discharged: bool
    infants: tuple[InfantAssessment, ...]
    findings: tuple[Finding, ...]
    rank: Rank
    parent_act: Act | None = None
    parent_act_on_paper: Act | None = None
