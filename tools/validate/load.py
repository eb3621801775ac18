"""How loud the flags are and whom they find: on the demo, on simulated infants, on open weights.

python -m tools.validate.load [--count N] [--weights FILE.csv] [--page PAGE.md]

Simulated infants come from the examiner, which the rules have never seen: each is weighed at the
contacts of a usual course, with wets and stools of the day before, drawn around the published medians
(Nommsen-Rivers 2008), and feeds. An infant **fails** whose
true weight falls more than 10 % below birth weight, or truly gains less than the 1st WHO centile of
the month (days 14 to 28: 10 g/day); it is **healthy** where it fails in nothing, is back at birth
weight by day 14 and gains at least the 15th centile. Those between are left out.
"""

from __future__ import annotations

import argparse
import csv
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import NAMESPACE_OID, uuid5

import numpy as np
from tools.validate.examiner import PLAIN, Schedule, World
from tools.validate.examiner import Infant as Simulated
from tools.validate.examiner import infants as draw

from suffice.assess.assessment import assess
from suffice.assess.results import Tier
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import (
    AnyFact,
    Basis,
    Birth,
    Entry,
    Feed,
    Infant,
    Record,
    Stool,
    Weight,
    Wet,
)
from suffice.inference.infant.population import Population
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "validation" / "load.md"
WEIGHTS = ROOT.parent / "shared" / "data" / "weights" / "life6mo_300.csv"
BORN_AT = datetime(2026, 1, 5, 6, tzinfo=UTC)
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
CONTACTS_D = (1, 2, 3, 5, 7, 10, 14, 21, 28, 42, 56)
WEEKS = ((0, 7), (7, 14), (14, 28), (28, 57))
SEED = 20261128
SHORT_SUPPLY = World(supply_shift_log=-0.45)
SECOND_MONTH_D = (28, 56)
FIRST_CENTILE = {"male": 16.0, "female": 12.4}
FIFTEENTH_CENTILE = {"male": 26.9, "female": 22.2}
"""WHO velocity of the second month, g/day (growth velocity standards 2009)."""
FIRST_OF_THIRD_WEEKS = 10.0
"""Our judged limit of days 14 to 28."""
LAST_MEDIAN_D = 7.0
FAILING_SHARE = 0.64
"""Of the diapers of a healthy infant: as much as of the supply."""
CARE = """**To be read with care.** Counts of diapers vary here as rare events do, more than those of one infant from day to day, so flags of few
wets are louder than they would be: fewer than four wets after four weeks, a physician's flag, are 8 in 100 contacts by chance alone.
Slips of weighing are drawn too: a healthy infant typed 400 g too light is 'now'. Nothing here was counted on a clinic's own records."""
URGENT = {"a physician's": Tier.TODAY, "the consultant's": Tier.WITHIN_A_DAY}


@dataclass(frozen=True)
class Course:
    """One infant as asked at each contact: what the rules said, and when it truly went wrong."""

    tiers: tuple[Tier, ...]
    failed_d: float | None


def failed_at(infant: Simulated) -> float | None:
    """The age at which an infant had failed; None where it did not."""
    birth_g = float(infant.course_g[0])
    deep = np.flatnonzero(infant.course_g < 0.9 * birth_g)
    if len(deep):
        return float(infant.course_d[deep[0]])
    if gain(infant, 14, 28) < FIRST_OF_THIRD_WEEKS:
        return 28.0
    sex = infant.evidence.sex or "female"
    return 56.0 if gain(infant, *SECOND_MONTH_D) < FIRST_CENTILE[sex] else None


def is_healthy(infant: Simulated) -> bool:
    sex = infant.evidence.sex or "female"
    thrives = gain(infant, *SECOND_MONTH_D) >= FIFTEENTH_CENTILE[sex]
    return failed_at(infant) is None and infant.regained_by_14 and thrives


def gain(infant: Simulated, start_d: float, stop_d: float) -> float:
    """True gain in g/day."""
    at = np.interp([start_d, stop_d], infant.course_d, infant.course_g)
    return float(at[1] - at[0]) / (stop_d - start_d)


def facts_of(
    infant: Simulated, rng: np.random.Generator, share: float
) -> Iterator[tuple[float, AnyFact]]:
    """What is entered of a simulated infant: age in days, fact.

    Wets and stools are drawn around the published medians of the day, of which a failing infant has
    a share; none in a day, which is rare, is not drawn.
    """
    medians = [load().table(f"output_observed.{kind}_count_per_day") for kind in ("wets", "stools")]
    for reading in infant.evidence.weights:
        day = min(max(1.0, float(np.ceil(reading.age_d))), LAST_MEDIAN_D)
        wets, stools = (int(max(1, rng.poisson(share * one.at(day).value))) for one in medians)
        yield reading.age_d, Weight(weight_g=reading.weight_g, clothing="naked")
        yield reading.age_d, Wet(count=wets, over_h=24.0)
        yield reading.age_d, Stool(count=stools, over_h=24.0)
        feeds = int(rng.integers(8, 13))
        for number in range(feeds):
            yield reading.age_d - number / feeds, Feed(milk="breast", minutes=20.0)


def record_of(birth: Birth, seen: Iterable[tuple[float, AnyFact]]) -> Record:
    who = Infant(id=uuid5(NAMESPACE_OID, "load"), position=1)
    facts = [(0.0, birth), *seen]
    entries = tuple(
        Entry(
            id=uuid5(NAMESPACE_OID, str(number)),
            fact=fact,
            basis=Basis.MEASURED,
            true_at=BORN_AT + timedelta(days=age_d),
            entered_at=BORN_AT + timedelta(days=age_d),
            entered_by="load",
            infant_id=who.id,
        )
        for number, (age_d, fact) in enumerate(facts)
        if age_d >= 0
    )
    return Record(family_id=uuid5(NAMESPACE_OID, "family"), infants=(who,), entries=entries)


def said_at(record: Record, ages_d: Sequence[float]) -> tuple[Tier, ...]:
    """The group at each age, an hour after what was seen then; the engine is not asked."""
    instants = [BORN_AT + timedelta(days=age_d, hours=1) for age_d in ages_d]
    return tuple(
        assess(record, at, load(), Policy(zone="UTC"), engine=False).rank.tier for at in instants
    )


def simulated(count: int, world: World, *, failing: bool) -> list[Course]:
    """`count` infants that fail, or that are healthy, each asked at every contact."""
    values = {key: one.value for key, one in load().constants("population").items()}
    population = Population.from_constants(values)
    schedule = Schedule("load", "a usual course", CONTACTS_D)
    share = FAILING_SHARE if failing else 1.0
    rng, found, seed = np.random.default_rng(SEED), [], SEED
    while len(found) < count:
        seed += 1
        for infant in draw(population, schedule, 200, seed, world, horizon_d=1.0):
            failed_d = failed_at(infant)
            if (failed_d is not None) is not failing or not (failing or is_healthy(infant)):
                continue
            birth = Birth(
                zone="UTC",
                sex=infant.evidence.sex,
                gestation_days=280,
                birth_weight_g=infant.evidence.birth_weight_g,
                mode=infant.evidence.mode,
            )
            record = record_of(birth, sorted(facts_of(infant, rng, share), key=lambda one: one[0]))
            found.append(Course(said_at(record, CONTACTS_D), failed_d))
            if len(found) == count:
                break
    return found


def open_weights(path: Path) -> list[tuple[float, Tier]]:
    """Every contact of the open cohort: age in days, group. Nothing but weights is known of it."""
    rows: dict[str, list[dict[str, str]]] = {}
    with path.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["weight_g"] not in {"", "NA"}:
                rows.setdefault(row["id"], []).append(row)
    found = []
    for own in rows.values():
        own.sort(key=lambda row: float(row["age_days"]))
        gestation = int(own[0]["gest_days"]) if own[0]["gest_days"].isdigit() else None
        first = own[0] if float(own[0]["age_days"]) == 0 else None
        birth = Birth(
            zone="UTC",
            sex="male" if own[0]["sex"] == "male" else "female",
            gestation_days=gestation if gestation and gestation >= 210 else None,
            birth_weight_g=float(first["weight_g"]) if first else None,
        )
        later = [row for row in own if row is not first]
        seen = [
            (float(row["age_days"]), Weight(weight_g=float(row["weight_g"]), clothing="naked"))
            for row in later
        ]
        ages = [age for age, _ in seen]
        found += list(zip(ages, said_at(record_of(birth, seen), ages), strict=True))
    return found


def by_week(courses: Sequence[Course]) -> list[str]:
    """A table: of 100 contacts in each stretch of age, how many stand in each group."""
    lines = [
        f"| days | {' | '.join(words(tier) for tier in Tier)} |",
        "|---|" + "---:|" * len(Tier),
    ]
    for start, stop in WEEKS:
        places = [n for n, day in enumerate(CONTACTS_D) if start <= day < stop]
        count = Counter(one.tiers[n] for one in courses for n in places)
        lines.append(f"| {start} to {stop} | {shares(count)} |")
    return lines


def shares(count: Counter[Tier]) -> str:
    total = max(sum(count.values()), 1)
    return " | ".join(f"{100 * count[tier] / total:.1f}" for tier in Tier)


def words(tier: Tier) -> str:
    return tier.name.lower().replace("_", " ")


def disturbed(courses: Sequence[Course]) -> list[str]:
    return [
        f"- share that ever reaches {what} level: "
        f"{100 * np.mean([min(one.tiers) <= tier for one in courses]):.1f} %"
        for what, tier in URGENT.items()
    ]


def found_before(courses: Sequence[Course]) -> list[str]:
    """Sensitivity up to the day of failing, and how long before it."""
    lines = []
    for what, tier in URGENT.items():
        leads = []
        for one in courses:
            days = [d for d, said in zip(CONTACTS_D, one.tiers, strict=True) if said <= tier]
            early = [d for d in days if d <= (one.failed_d or 0.0)]
            leads.append((one.failed_d or 0.0) - early[0] if early else None)
        known = [one for one in leads if one is not None]
        ever = np.mean([min(one.tiers) <= tier for one in courses])
        lead = f"{np.median(known):.1f} d" if known else "none"
        lines.append(
            f"- {what} level: {100 * len(known) / len(leads):.1f} % by the day they fail"
            f" (median {lead} before), {100 * ever:.1f} % ever"
        )
    return lines


def demo() -> str:
    """The demo families, each in its group."""
    records = Families(scenario(), now=NOW, entered_by="load").records()
    policy = Policy(zone=scenario().service.zone)
    tiers = [assess(one, NOW, load(), policy, engine=False).rank.tier for one in records]
    return f"| {' | '.join(str(Counter(tiers)[tier]) for tier in Tier)} |"


def page(count: int, weights: Path) -> str:
    healthy = simulated(count, PLAIN, failing=False)
    failing = simulated(count, SHORT_SUPPLY, failing=True)
    head = f"| {' | '.join(words(tier) for tier in Tier)} |\n|{'---:|' * len(Tier)}"
    parts = [
        "# Validation: how loud the flags are",
        __doc__.split("\n\n")[2].replace("\n", " "),
        (
            f"Content {load().version}, plain rules, the engine not asked; written by `python -m"
            f" tools.validate.load`. Contacts on days {', '.join(map(str, CONTACTS_D))}."
        ),
        CARE,
        f"## {count} healthy infants\n\nOf 100 contacts stand in each group:",
        "\n".join(by_week(healthy)),
        "\n".join(disturbed(healthy)),
        (
            f"## {count} failing infants\n\nDrawn with a supply that is a third shorter. Of 100 contacts"
            " stand in each group:"
        ),
        "\n".join(by_week(failing)),
        "Found at\n\n" + "\n".join(found_before(failing)),
        "## The demo families",
        f"{head}\n{demo()}",
    ]
    if weights.exists():
        said = open_weights(weights)
        lines = [
            f"| days | {' | '.join(words(tier) for tier in Tier)} |",
            "|---|" + "---:|" * len(Tier),
        ]
        for start, stop in ((0, 7), (7, 14), (14, 28), (28, 56), (56, 91), (91, 200)):
            count_of = Counter(tier for age, tier in said if start <= age < stop)
            lines.append(f"| {start} to {stop} | {shares(count_of)} |")
        parts += [
            (
                "## Open weights\n\n300 infants of 1.5 to 2.5 kg ([the study](real.md)), asked at every"
                " weight. Wets, stools and feeds are not known of them, so that none is settled in its"
                " first week. Of 100 contacts stand in each group:"
            ),
            "\n".join(lines),
        ]
    return "\n\n".join(parts) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--weights", type=Path, default=WEIGHTS)
    parser.add_argument("--page", type=Path, default=PAGE)
    asked = parser.parse_args()
    asked.page.write_text(page(asked.count, asked.weights), encoding="utf-8")


if __name__ == "__main__":
    main()
