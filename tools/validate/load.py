"""How loud the flags are and whom they find: on the demo, on simulated infants, on open weights.

python -m tools.validate.load [--count N] [--weights FILE.csv] [--page PAGE.md] [--former CHECKOUT]

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
import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final
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
SHORT_SUPPLY_LOG = -0.45
SECOND_MONTH_D = (28, 56)
FIRST_CENTILE = {"male": 16.0, "female": 12.4}
FIFTEENTH_CENTILE = {"male": 26.9, "female": 22.2}
"""WHO velocity of the second month, g/day (growth velocity standards 2009)."""
FIRST_OF_THIRD_WEEKS = 10.0
"""Our judged limit of days 14 to 28."""
LAST_MEDIAN_D = 7.0
FAILING_SHARE = 0.64
"""Of the diapers of a healthy infant: as much as of the supply."""
CARE = """**To be read with care.** How much the diapers of one infant vary from day to day is not published, as far as we found, so two answers
are drawn: as rare events do (the variance is the mean), and half of that. With the first, fewer than four wets after four weeks, a physician's flag,
are 8 in 100 contacts by chance alone. Slips of weighing are drawn too, and then left out: a healthy infant typed 400 g too light is 'now'.
Nothing here was counted on a clinic's own records."""
URGENT = {"a physician's": Tier.TODAY, "the consultant's": Tier.WITHIN_A_DAY}


@dataclass(frozen=True)
class Drawn:
    """How infants are drawn: what their diapers' variance is of the mean, and how they truly are."""

    says: str
    spread: float
    world: World


RARE = 1.0
HALF = 0.5
HEALTHY = (
    Drawn("diapers as rare events, slips of weighing", RARE, PLAIN),
    Drawn("diapers half as spread, slips of weighing", HALF, PLAIN),
    Drawn("diapers half as spread, no slips", HALF, replace(PLAIN, outlier_fraction=0.0)),
)
FAILING = tuple(
    Drawn(one.says, one.spread, replace(one.world, supply_shift_log=SHORT_SUPPLY_LOG))
    for one in HEALTHY
)


@dataclass(frozen=True)
class Course:
    """One infant as asked at each contact: what the rules said, and when it truly went wrong.

    Attributes:
        tiers: The group at each contact.
        failed_d: Age at which it had failed; None for a healthy one.
        facts: What was entered: age in days, fact.
    """

    tiers: tuple[Tier, ...]
    failed_d: float | None
    facts: tuple[tuple[float, AnyFact], ...]


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
    infant: Simulated, rng: np.random.Generator, share: float, spread: float
) -> Iterator[tuple[float, AnyFact]]:
    """What is entered of a simulated infant: age in days, fact.

    Wets and stools are drawn around the published medians of the day, of which a failing infant has
    a share; none in a day, which is rare, is not drawn.
    """
    medians = [load().table(f"output_observed.{kind}_count_per_day") for kind in ("wets", "stools")]
    for reading in infant.evidence.weights:
        day = min(max(1.0, float(np.ceil(reading.age_d))), LAST_MEDIAN_D)
        wets, stools = (count(rng, share * one.at(day).value, spread) for one in medians)
        yield reading.age_d, Weight(weight_g=reading.weight_g, clothing="naked")
        yield reading.age_d, Wet(count=wets, over_h=24.0)
        yield reading.age_d, Stool(count=stools, over_h=24.0)
        feeds = int(rng.integers(8, 13))
        for number in range(feeds):
            yield reading.age_d - number / feeds, Feed(milk="breast", minutes=20.0)


def count(rng: np.random.Generator, mean: float, spread: float) -> int:
    """A count of a day, at least 1: its variance is `spread` times its mean."""
    if spread == RARE:
        return int(max(1, rng.poisson(mean)))
    tries = max(1, round(mean / (1.0 - spread)))
    return int(max(1, rng.binomial(tries, min(1.0, mean / tries))))


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


def simulated(many: int, drawn: Drawn, *, failing: bool) -> list[Course]:
    """`many` infants that fail, or that are healthy, each asked at every contact."""
    values = {key: one.value for key, one in load().flat.items()}
    population = Population.from_constants(values)
    schedule = Schedule("load", "a usual course", CONTACTS_D)
    share = FAILING_SHARE if failing else 1.0
    rng, seed = np.random.default_rng(SEED), SEED
    found: list[Course] = []
    while len(found) < many:
        seed += 1
        for infant in draw(population, schedule, 200, seed, drawn.world, horizon_d=1.0):
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
            seen = sorted(facts_of(infant, rng, share, drawn.spread), key=lambda one: one[0])
            tiers = said_at(record_of(birth, seen), CONTACTS_D)
            found.append(Course(tiers, failed_d, ((0.0, birth), *seen)))
            if len(found) == many:
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


def ever(tiers: Iterable[Sequence[str]], urgent: Sequence[str]) -> float:
    """Of 100 infants, how many were ever in one of some groups."""
    return 100 * float(np.mean([any(one in urgent for one in own) for own in tiers]))


def up_to(tier: Tier) -> list[str]:
    return [one.name for one in Tier if one <= tier]


def former(checkout: Path | None, courses: Sequence[Course]) -> list[Sequence[str]] | None:
    """The groups that the rules of a former version give the same infants; None without it."""
    if checkout is None:
        return None
    infants = [
        {
            "facts": [
                (age_d, type(fact).__name__, written_fields(fact))
                for age_d, fact in one.facts
                if age_d >= 0
            ]
        }
        for one in courses
    ]
    asked = {"born_at": BORN_AT.isoformat(), "contacts_d": CONTACTS_D, "infants": infants}
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("former.py"))],
        env={**os.environ, "PYTHONPATH": str(checkout / "src")},
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=True,
    )
    found: list[Sequence[str]] = json.loads(done.stdout)
    return found


def written_fields(fact: AnyFact) -> dict[str, object]:
    """The fields of a fact that say something."""
    fields = {name: getattr(fact, name) for name in fact.__struct_fields__}
    return {name: value for name, value in fields.items() if value is not None}


def how_many(
    all_drawn: Sequence[Drawn], courses: Sequence[Sequence[Course]], checkout: Path | None
) -> list[str]:
    """A table: the share that ever reaches a level, by these rules and by the former ones."""
    heads = ["drawn with", "a physician's level", "the consultant's level or above"]
    if checkout is not None:
        heads += ["former rules: red", "former rules: red or watch"]
    lines = [f"| {' | '.join(heads)} |", f"|---|{'---:|' * (len(heads) - 1)}"]
    for drawn, own in zip(all_drawn, courses, strict=True):
        now = [[tier.name for tier in one.tiers] for one in own]
        shares_of = [ever(now, up_to(tier)) for tier in URGENT.values()]
        before = former(checkout, own)
        if before is not None:
            shares_of += [ever(before, red) for red in (("red",), ("red", "watch"))]
        lines.append(f"| {drawn.says} | {' | '.join(f'{n:.1f}' for n in shares_of)} |")
    return lines


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
        at_any_time = np.mean([min(one.tiers) <= tier for one in courses])
        lead = f"{np.median(known):.1f} d" if known else "none"
        lines.append(
            f"- {what} level: {100 * len(known) / len(leads):.1f} % by the day they fail"
            f" (median {lead} before), {100 * at_any_time:.1f} % ever"
        )
    return lines


def demo() -> str:
    """The demo families, each in its group."""
    records = Families(scenario(), now=NOW, entered_by="load").records()
    policy = Policy(zone=scenario().service.zone)
    tiers = [assess(one, NOW, load(), policy, engine=False).rank.tier for one in records]
    return f"| {' | '.join(str(Counter(tiers)[tier]) for tier in Tier)} |"


FORMER_NOW: Final = " The former rules are those of version 2026.11.1, before the ladder of levels."
FORMER: Final = (
    " The rules of version 2026.11.1, before the ladder of levels, were counted once, on 2,000 infants of each kind"
    " drawn alike, with slips and with diapers as rare events: 96.1 of 100 healthy ones were ever red there and"
    " 98.0 red or watch, of failing ones 100 and 100."
)
"""Said where no checkout of that version is given to count it again."""


def page(many: int, weights: Path, checkout: Path | None) -> str:
    healthy = [simulated(many, one, failing=False) for one in HEALTHY]
    failing = [simulated(many, one, failing=True) for one in FAILING]
    head = f"| {' | '.join(words(tier) for tier in Tier)} |\n|{'---:|' * len(Tier)}"
    parts = [
        "# Validation: how loud the flags are",
        __doc__.split("\n\n")[2].replace("\n", " "),
        (
            f"Content {load().version}, plain rules, the engine not asked; written by `python -m"
            f" tools.validate.load`. Contacts on days {', '.join(map(str, CONTACTS_D))}."
            f"{FORMER if checkout is None else FORMER_NOW}"
        ),
        CARE,
        f"## {many} healthy infants\n\nOf 100 infants, how many ever reach:",
        "\n".join(how_many(HEALTHY, healthy, checkout)),
        f"Of 100 contacts stand in each group ({HEALTHY[0].says}):",
        "\n".join(by_week(healthy[0])),
        f"The same ({HEALTHY[-1].says}):",
        "\n".join(by_week(healthy[-1])),
        (
            f"## {many} failing infants\n\nDrawn with a supply that is a third shorter. Of 100 infants,"
            " how many ever reach:"
        ),
        "\n".join(how_many(FAILING, failing, checkout)),
        f"Of 100 contacts stand in each group ({FAILING[1].says}):",
        "\n".join(by_week(failing[1])),
        f"Found at ({FAILING[1].says})\n\n" + "\n".join(found_before(failing[1])),
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
    parser.add_argument("--former", type=Path, help="a checkout of version 2026.11.1")
    asked = parser.parse_args()
    asked.page.write_text(page(asked.count, asked.weights, asked.former), encoding="utf-8")


if __name__ == "__main__":
    main()
