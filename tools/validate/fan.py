"""The page's fan and the batch's forecast on the same infants, task by task; fills fan.md.

    python -m tools.validate.fan [--weights FILE.csv]

Per task (known up to one age, asked at a later one): RMSE over that of the better naive rule, CRPS,
and what the 50, 80 and 95 % intervals cover. Four kinds of infants: the open weights of small
infants; term infants simulated from the WHO increments, with the same noise at every age and with
noise that grows; term infants of another law of growth, with more slips; and the energy model's own
examiner, where its own fan is the rule.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
from rich.progress import track
from tools.validate import examiner, real
from tools.validate.ridge import ridge_errors
from tools.validate.scoring import rmse
from tools.validate.study import DEFAULT_WEIGHTS, ROOT, TASKS, Study, halves, read_study
from tools.validate.term_infants import POPULATIONS, simulate
from tools.validate.waning_infants import AGES_D as WANING_D
from tools.validate.waning_infants import waning
from tools.validate.weight_forecasts import Score, Spread, Task, overall, score

from suffice.inference.estimate import WIDTH_80, Forecast, Question
from suffice.inference.evidence import Evidence, WeightReading
from suffice.inference.growth.blend import with_growth
from suffice.inference.growth.prior import Floats, SiteShift, Weighed
from suffice.inference.growth.site import pool_site, settle
from suffice.inference.infant.answer import answer
from suffice.inference.infant.population import Population
from suffice.knowledge.growth_forecast import growth_of
from suffice.knowledge.store import load

PAGE = ROOT / "docs" / "validation" / "fan.md"
KEPT = ROOT / "var" / "validate" / "fan.json"
CONTENT = load()
VALUES = {key: one.value for key, one in CONTENT.flat.items()}
POPULATION = Population.from_constants(VALUES)
QUESTION = Question.from_constants(VALUES)
GROWTH = growth_of(CONTENT)
VISITS_D = (0.0, 3.0, 7.0, 14.0, 21.0, 28.0, 35.0, 42.0, 56.0, 70.0, 84.0, 91.0)
TERM_TASKS = (
    (7, 14), (7, 28), (14, 21), (14, 28), (14, 42), (21, 28), (28, 35), (28, 56), (42, 56), (42, 84),
    (56, 70), (56, 91), (70, 84),
)  # fmt: skip
PAGE_UNTIL_D = POPULATION.age_limit_d
WANING_NOISE_G = (35.0, 60.0, 90.0)
SITE_INFANTS = 100
FURTHEST_D = 66
"""How many days ahead the page is asked."""
SLOW_SHARE = 0.15
"""Of the infants of a task, those who last gained slowest are also looked at alone."""
Foretell = Callable[[Task], Spread]


def page_evidence(task: Task, row: int) -> Evidence:
    """What a ward would have entered of one infant of a task: a weight at age 0 is the birth weight."""
    ages, weights = task.known.age_d[row], task.known.weight_g[row]
    gestation = task.known.gestation_days[row]
    seen = np.isfinite(weights)
    born = weights[seen & (ages == 0)]
    return Evidence(
        now_d=float(task.last_d[row]),
        birth_weight_g=float(born[0]) if len(born) else None,
        sex="male" if task.known.male_share[row] > 0.5 else "female",
        gestation_days=int(gestation) if np.isfinite(gestation) else None,
        weights=tuple(
            WeightReading(id=f"w{j}", age_d=float(ages[j]), weight_g=float(weights[j]))
            for j in np.flatnonzero(seen & (ages > 0))
        ),
    )


def drawn(fan: Forecast) -> Floats:
    """The quantiles that the page draws, (n_ages, 7)."""
    return np.array(fan.reading_g)


class PageFan:
    """The fan of the page; one answer an infant and day serves every task that asks from there."""

    def __init__(
        self,
        shift: SiteShift | None = None,
        *,
        pooled: bool = True,
        horizon_d: float = FURTHEST_D,
    ) -> None:
        self._growth = replace(GROWTH, shift=shift)
        self._horizon_d = horizon_d
        self._pooled = pooled
        self._kept: dict[Evidence, Forecast] = {}

    def __call__(self, task: Task) -> Spread:
        found = np.array([self._one(task, row) for row in range(len(task.rows))])
        middle, sd = found[:, 3], (found[:, 5] - found[:, 1]) / WIDTH_80
        return Spread(
            mean_g=middle,
            sd_g=sd,
            gross_share=np.zeros(len(middle)),
            gross_sd_g=1.0,
            quantiles_g=found,
        )

    def _one(self, task: Task, row: int) -> Floats:
        evidence = page_evidence(task, row)
        fan = self._fan(evidence)
        ages, quantiles = np.array(fan.age_d), drawn(fan)
        return np.array([np.interp(task.at_d[row], ages, one) for one in quantiles.T])

    def _fan(self, evidence: Evidence) -> Forecast:
        if evidence not in self._kept:
            asked = msgspec.structs.replace(QUESTION, horizon_d=self._horizon_d)
            estimate = answer(evidence, POPULATION, asked, seed=3)
            # Whom the engine refuses gets no fan on the page; here the fan itself is judged.
            estimate = msgspec.structs.replace(estimate, cautions=())
            if self._pooled:
                estimate = with_growth(evidence, estimate, self._growth)
            self._kept[evidence] = estimate.forecast
        return self._kept[evidence]


def batch(shift: SiteShift | None = None) -> Foretell:
    """The forecast of the batch."""
    return real.with_shift(GROWTH.prior, GROWTH.reference, shift)


def crossed_site(weighed: Weighed, make: Callable[[SiteShift], Foretell]) -> Foretell:
    """Forecasts of each half with the site pooled from `SITE_INFANTS` of the other half."""
    parts = halves(weighed.count)
    made = []
    for others in parts[::-1]:
        chosen = np.random.default_rng(0).permutation(others)[:SITE_INFANTS]
        pool = pool_site(GROWTH.prior, GROWTH.reference, weighed.rows(chosen))
        made.append(make(settle(pool)))

    def foretell(task: Task) -> Spread:
        mine = [np.flatnonzero(np.isin(task.rows, part)) for part in parts]
        return Spread.joined(
            [one(some(task, rows)) for one, rows in zip(made, mine, strict=True)], mine
        )

    return foretell


def some(task: Task, rows: np.ndarray) -> Task:
    """Some infants of a task."""
    return replace(
        task,
        rows=task.rows[rows],
        known=task.known.rows(rows),
        last_d=task.last_d[rows],
        last_g=task.last_g[rows],
        at_d=task.at_d[rows],
        truth_g=task.truth_g[rows],
        is_slip=task.is_slip[rows],
    )


def slowest(task: Task) -> np.ndarray:
    """The rows of a task whose last gain is among the slowest `SLOW_SHARE`; by what is known alone."""
    ages, weights = task.known.age_d, task.known.weight_g
    earlier = np.where(ages < task.last_d[:, None], ages, -np.inf)
    infants = np.arange(len(task.rows))
    before = earlier.argmax(axis=1)
    span_d = task.last_d - earlier[infants, before]
    rate = np.where(np.isfinite(span_d), (task.last_g - weights[infants, before]) / span_d, np.nan)
    return np.flatnonzero(rate <= np.nanquantile(rate, SLOW_SHARE))


def study_tasks(study: Study, infants: int | None) -> list[Task]:
    """The tasks of the small infants, those whose page would show a fan alone where asked."""
    rows = np.arange(study.weighed.count)
    if infants:
        rows = np.sort(np.random.default_rng(1).permutation(rows)[:infants])
    return [study.task(a, b, rows) for a, b in TASKS]


def of_page(tasks: Sequence[Task]) -> list[Task]:
    """What the page could have been asked: within the engine's ages."""
    return [one for one in tasks if float(np.median(one.last_d)) <= PAGE_UNTIL_D]


def term_infants(which: int, count: int, *, growing: bool) -> Weighed:
    """Simulated term infants, weighed weekly and then fortnightly."""
    ages = np.array(VISITS_D)
    infants = simulate(
        POPULATIONS[which],
        GROWTH.reference,
        ages,
        count=count,
        seed=17,
        noise_g=0.0,
        gross_share=0.0,
    )
    rng = np.random.default_rng(18)
    noise = np.interp(ages, [5.0, 21.0], [35.0, 70.0]) if growing else np.full(len(ages), 35.0)
    read = infants.true_g + noise * rng.normal(size=infants.true_g.shape)
    gross = rng.random(read.shape) < 0.02
    read += gross * 250.0 * rng.normal(size=read.shape)
    return read_at(infants.male, ages, read)


def waning_infants(count: int, noise_g: float) -> Weighed:
    """Simulated term infants of another law, weighed weekly."""
    infants = waning(count, noise_g, seed=5)
    return read_at(infants.male, WANING_D, infants.read_g)


def read_at(male: Floats, ages: Floats, read: Floats) -> Weighed:
    count = len(male)
    return Weighed(
        age_d=np.array(np.broadcast_to(ages, read.shape)),
        weight_g=read,
        male_share=male,
        gestation_days=np.full(count, 280.0),
        caesarean_share=np.full(count, GROWTH.prior.caesarean_share),
    )


def term_task(infants: Weighed, start: float, stop: float) -> Task:
    """One task of term infants who were all weighed at the same ages."""
    ages, read = infants.age_d[0], infants.weight_g
    count = infants.count
    return Task(
        name=f"{start} -> {stop}",
        rows=np.arange(count),
        known=infants.until(start),
        last_d=np.full(count, float(start)),
        last_g=read[:, int(np.flatnonzero(ages == start)[0])],
        at_d=np.full(count, float(stop)),
        truth_g=read[:, int(np.flatnonzero(ages == stop)[0])],
        is_slip=np.zeros(count, dtype=bool),
    )


def examined(count: int) -> str:
    """The page's fan and the energy model's on the energy model's own examiner: true weights."""
    lines = [
        "| schedule | in | RMSE engine / page | ratio | page covers 50 / 80 / 95 | CRPS engine / page |",
        "|---|---|---|---|---|---|",
    ]
    for name in track(("A", "B", "C2", "D", "F"), description="energy model's infants"):
        schedule = examiner.SCHEDULES[name]
        infants = examiner.infants(POPULATION, schedule, count, seed=11)
        fans = [_both(one.evidence) for one in infants]
        for ahead in (7, 14):
            truth = np.array(
                [np.interp(schedule.now_d + ahead, one.course_d, one.course_g) for one in infants]
            )
            engine, page = (_of_rows(np.array([fan[k][ahead] for fan in fans])) for k in (0, 1))
            q = page.quantiles_g
            covers = " / ".join(
                f"{np.mean((truth >= q[:, i]) & (truth <= q[:, 6 - i])):.2f}" for i in (2, 1, 0)
            )
            errors = rmse(engine.mean_g - truth), rmse(page.mean_g - truth)
            lines.append(
                f"| {name} | {ahead} d | {errors[0]:.0f} / {errors[1]:.0f} | {errors[1] / errors[0]:.3f}"
                f" | {covers} | {engine.crps_g(truth).mean():.1f} / {page.crps_g(truth).mean():.1f} |"
            )
    return "\n".join(lines) + "\n"


def _of_rows(rows: Floats) -> Spread:
    return Spread(
        mean_g=rows[:, 3],
        sd_g=(rows[:, 5] - rows[:, 1]) / WIDTH_80,
        gross_share=np.zeros(len(rows)),
        gross_sd_g=1.0,
        quantiles_g=rows,
    )


def _both(evidence: Evidence) -> tuple[Floats, Floats]:
    """True weights of the energy model's fan and of the page's."""
    estimate = answer(evidence, POPULATION, QUESTION, seed=3)
    pooled = with_growth(evidence, estimate, GROWTH)
    return np.array(estimate.forecast.weight_g), np.array(pooled.forecast.weight_g)


def by_forecast(
    study: Study | None, infants: int | None, count: int
) -> Iterator[tuple[str, str, list[Score], list[float]]]:
    """(name, unit, scores, RMSE of a ridge regression per task) of every forecast and cohort."""
    if study is not None:
        tasks = study_tasks(study, infants)
        on_page = of_page(tasks)
        trained = {one.name: ridge_errors(one, halves(study.weighed.count)) for one in tasks}
        for name, those, foretell in (
            ("small infants, batch", tasks, batch()),
            ("small infants, batch with a site of 100", tasks, crossed_site(study.weighed, batch)),
            ("small infants, page", on_page, PageFan()),
            (
                "small infants, page with a site of 100",
                on_page,
                crossed_site(study.weighed, PageFan),
            ),
            ("small infants, energy model alone", on_page, PageFan(pooled=False)),
        ):
            found = [score(one, foretell(one)) for one in track(those, description=name)]
            yield name, "weeks", found, [rmse(trained[one.name]) for one in those]
        slow = [one for one in tasks if not one.name.startswith("1 ")]
        rows = [slowest(one) for one in slow]
        alone = [some(one, place) for one, place in zip(slow, rows, strict=True)]
        yield (
            "small infants who last gained slowest, batch",
            "weeks",
            [score(one, batch()(one)) for one in alone],
            [rmse(trained[one.name][place]) for one, place in zip(slow, rows, strict=True)],
        )
    if count:
        yield from of_term_infants(count)


def of_term_infants(count: int) -> Iterator[tuple[str, str, list[Score], list[float]]]:
    """The same of the simulated term infants; the page is asked about those of the published worlds."""
    made = [
        (f"{population.name}, noise {'growing' if growing else '35 g'}", which, growing)
        for which, population in enumerate(POPULATIONS)
        for growing in (False, True)
    ]
    for says, which, growing in made:
        infants = term_infants(which, count, growing=growing)
        yield from _of_infants(says, infants, with_page=True)
    for noise_g in WANING_NOISE_G:
        infants = waning_infants(count, noise_g)
        yield from _of_infants(f"waning gain, noise {noise_g:g} g", infants, with_page=False)


def _of_infants(
    says: str, infants: Weighed, *, with_page: bool
) -> Iterator[tuple[str, str, list[Score], list[float]]]:
    tasks = [term_task(infants, a, b) for a, b in TERM_TASKS]
    split = halves(infants.count)
    ridge = [rmse(ridge_errors(one, split)) for one in tasks]
    asked = [
        (f"{says}, batch", batch()),
        (f"{says}, batch with a site of 100", crossed_site(infants, batch)),
    ]
    if with_page:
        asked.append((f"{says}, page", PageFan()))
    for name, foretell in asked:
        found = [score(one, foretell(one)) for one in track(tasks, description=name)]
        yield name, "days", found, ridge


def in_short(name: str, found: list[Score], ridge: list[float]) -> str:
    """One row of the summary."""
    whole = overall(found)
    ratios = [one.ratio for one in found]
    clean = float(np.mean([one.ratio_without_slips for one in found]))
    covers = [one.coverage[1] for one in found]
    against = float(np.mean([one.rmse[2] / r for one, r in zip(found, ridge, strict=True)]))
    crps = np.mean([one.crps for one in found]), np.mean([one.rule_crps for one in found])
    return (
        f"| {name} | {len(found)} | {whole.ratio[0]:.3f} | {clean:.3f} | {max(ratios):.3f} |"
        f" {sum(r < 1 for r in ratios)} | {against:.3f} | {crps[0]:.1f} / {crps[1]:.1f} | "
        + " / ".join(f"{one[0]:.3f}" for one in whole.coverage)
        + f" | {min(covers):.2f} to {max(covers):.2f} |"
    )


SUMMARY_HEAD = (
    "| forecast | tasks | mean ratio | without certain slips | worst | better in | to ridge | CRPS, g |"
    " covers 50 / 80 / 95 | 80 % by task |\n|---|---|---|---|---|---|---|---|---|---|"
)


def by_task(name: str, unit: str, found: list[Score], ridge: list[float]) -> str:
    """Every task of one forecast."""
    lines = [
        f"**{name}**\n",
        f"| {unit} | n | RMSE | ratio | without slips | to ridge | CRPS, rule | CRPS | covers 50 / 80 / 95 | bias |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    lines.extend(
        f"| {one.name} | {one.count} | {one.rmse[2]:.0f} | {one.ratio:.3f} | {one.ratio_without_slips:.3f} |"
        f" {one.rmse[2] / trained:.3f} | {one.rule_crps:.0f} | {one.crps:.0f} | "
        + " / ".join(f"{share:.2f}" for share in one.coverage)
        + f" | {one.error.mean():+.0f} |"
        for one, trained in zip(found, ridge, strict=True)
    )
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weights", type=Path, default=DEFAULT_WEIGHTS)
    parser.add_argument(
        "--infants", type=int, default=None, help="small infants, a fixed subsample"
    )
    parser.add_argument("--count", type=int, default=400, help="simulated infants of each kind")
    parser.add_argument("--examined", type=int, default=150, help="the energy model's own infants")
    parser.add_argument("--print-only", action="store_true")
    chosen = parser.parse_args()
    # A ward would enter a weight of the first day as the birth weight.
    study = read_study(chosen.weights, day_of_birth_d=0.0) if chosen.weights.exists() else None
    if study is None:
        print(f"No weights at {chosen.weights}: the small infants are left out.")
    rows, tables, kept = [], [], {}
    for name, unit, found, ridge in by_forecast(study, chosen.infants, chosen.count):
        rows.append(in_short(name, found, ridge))
        tables.append(by_task(name, unit, found, ridge))
        kept[name] = {one.name: (one.count, one.ratio, one.crps, *one.coverage) for one in found}
        print(rows[-1], flush=True)
    parts = {
        "summary": SUMMARY_HEAD + "\n" + "\n".join(rows) + "\n",
        "tasks": "\n".join(tables),
        "examined": examined(chosen.examined) if chosen.examined else "",
    }
    print("\n".join(parts.values()))
    if not chosen.print_only:
        KEPT.parent.mkdir(parents=True, exist_ok=True)
        KEPT.write_text(json.dumps(kept, indent=1), encoding="utf-8")
        real.fill(PAGE, parts)


if __name__ == "__main__":
    main()
