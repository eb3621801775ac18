"""The reading of watched feeds on simulated ones, beside rules of thumb and an all-knowing watcher.

python -m tools.validate.watched_feed [--count N] [--page PAGE.md]

An offer is **early** where it comes more than 30 s before the last ejection ends. A fade is **found**
where the offer comes at or after that and before the infant is off; the delay counts from the end of
the last ejection.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from tools.validate.feeds import FeedWorld, Floats, SimulatedFeed, draw, faded_online

from suffice.inference.feed.model import FeedParameters, feed_model
from suffice.inference.feed.reading import State, StretchReading, read_stretch
from suffice.knowledge.store import load

PAGE = Path(__file__).resolve().parents[2] / "docs" / "validation" / "watched-feed.md"
SEED = 20261128
EARLY_S = 30
TERM = FeedWorld()
COLOSTRUM = FeedWorld(per_minute=13)
WORLDS = {
    "term": TERM,
    "colostrum": COLOSTRUM,
    "second world, term": replace(TERM, is_other=True),
    "second world, colostrum": replace(COLOSTRUM, is_other=True),
    "heard 60 %": replace(TERM, heard=0.6),
    "2 false taps a minute": replace(TERM, extra_per_minute=2.0),
    "away 60 s, not said": replace(TERM, away_s=60.0, is_marked=False),
    "away 60 s, said": replace(TERM, away_s=60.0),
    "lulls of 22 s": replace(TERM, lull_s=22.0),
    "lulls of 90 s": replace(TERM, lull_s=90.0),
}
Rule = Callable[[SimulatedFeed], "float | None"]


def first(is_met: NDArray[np.bool_]) -> float | None:
    """The second after which something first is so."""
    at = np.flatnonzero(is_met)
    return float(at[0] + 1) if len(at) else None


def model_rule(above: float, least: int, parameters: FeedParameters) -> Rule:
    model = feed_model(parameters)

    def ask(feed: SimulatedFeed) -> float | None:
        chance = faded_online(feed.stretch, model)
        return first((chance > above) & (feed.stretch.taps.cumsum() >= least))

    return ask


def window(taps: NDArray[np.intp], seconds: int) -> Floats:
    """Taps in the last so many seconds, after each second."""
    total = np.concatenate([[0], taps.cumsum()])
    at = np.arange(1, len(taps) + 1)
    return np.asarray(total[at] - total[np.maximum(at - seconds, 0)])


def no_swallow_for(seconds: int) -> Rule:
    def ask(feed: SimulatedFeed) -> float | None:
        taps = feed.stretch.taps
        begun = np.arange(1, len(taps) + 1) > seconds
        seen = taps.cumsum() > 0
        return first((window(taps, seconds) == 0) & begun & seen)

    return ask


def fewer_than(per_minute: int, seconds: int = 120) -> Rule:
    """Fewer than so many a minute in the last two, once there were more."""

    def ask(feed: SimulatedFeed) -> float | None:
        last = window(feed.stretch.taps, seconds)
        limit = per_minute * seconds / 60
        return first((last < limit) & (np.maximum.accumulate(last) >= limit))

    return ask


def part_of_best(part: float, seconds: int = 120) -> Rule:
    def ask(feed: SimulatedFeed) -> float | None:
        last = window(feed.stretch.taps, seconds)
        best = np.maximum.accumulate(last)
        return first((last < part * best) & (best >= 10))

    return ask


def after(minutes: int) -> Rule:
    return lambda feed: minutes * 60.0 if feed.stretch.seconds > minutes * 60 else None


def knowing(wait_s: int) -> Rule:
    """A watcher who sees milk flow, and waits: not even that one can be at once and right."""

    def ask(feed: SimulatedFeed) -> float | None:
        for since, until in feed.lulls:
            if until - since >= wait_s:
                return since + wait_s
        return None

    return ask


def rules(parameters: FeedParameters) -> dict[str, Rule]:
    above, least = parameters.faded_above_fraction.value, int(parameters.least_count.value)
    return {
        f"**model, above {above:g}, {least} swallows (in use)**": model_rule(
            above, least, parameters
        ),
        "model, above .95, 20 swallows": model_rule(0.95, 20, parameters),
        "no swallow for 60 s": no_swallow_for(60),
        "no swallow for 2 min": no_swallow_for(120),
        "fewer than 6 a minute in 2 min": fewer_than(6),
        "fewer than 3 a minute in 2 min": fewer_than(3),
        "last 2 min below .15 of the best": part_of_best(0.15),
        "last 2 min below .10 of the best": part_of_best(0.10),
        "10 min": after(10),
        "15 min": after(15),
        "knows when milk flows, waits 60 s": knowing(60),
        "knows when milk flows, waits 120 s": knowing(120),
    }


@dataclass(frozen=True)
class Offers:
    """How often an offer comes too early, how often it comes, and how late (s)."""

    early: float
    found: float
    median_s: float
    late_s: float

    def __str__(self) -> str:
        """As cells."""
        times = f"{self.median_s:.0f} | {self.late_s:.0f}" if self.found else "- | -"
        return f"{self.early:.3f} | {self.found:.2f} | {times}"


def offers(feeds: Sequence[SimulatedFeed], rule: Rule) -> Offers:
    early, delays = 0, []
    for feed in feeds:
        at = rule(feed)
        if at is None:
            continue
        if at < feed.faded_s - EARLY_S:
            early += 1
        elif at >= feed.faded_s and feed.stays:
            delays.append(at - feed.faded_s)
    found = len(delays) / sum(feed.stays for feed in feeds)
    median, late = np.quantile(delays, (0.5, 0.9)) if delays else (np.nan, np.nan)
    return Offers(early / len(feeds), found, float(median), float(late))


@dataclass(frozen=True)
class Afterwards:
    """Errors and coverage of the fade and of the effective time, once a feed is over."""

    faded: float
    fade_median_s: float
    fade_rmse_s: float
    fade_covered: float
    effective_rmse_s: float
    effective_bias_s: float
    effective_covered: float

    def __str__(self) -> str:
        """As cells."""
        return (
            f"{self.faded:.2f} | {self.fade_median_s:.0f} | {self.fade_rmse_s:.0f} | "
            f"{self.fade_covered:.2f} | {self.effective_rmse_s:.0f} "
            f"({self.effective_bias_s:+.0f}) | {self.effective_covered:.2f}"
        )


def afterwards(feeds: Sequence[SimulatedFeed], parameters: FeedParameters) -> Afterwards:
    read = [(feed, read_stretch(feed.stretch, parameters)) for feed in feeds]
    with_fade = [(feed, one.faded_ms) for feed, one in read if one.faded_ms]
    errors = np.array([one.value / 1000 - feed.faded_s for feed, one in with_fade])
    # A fade stands at the beginning of a second: half of one on either side is its rounding.
    covered = [
        one.low / 1000 - 0.5 <= feed.faded_s <= one.high / 1000 + 0.5 for feed, one in with_fade
    ]
    lengths = np.array([one.effective_s.value - feed.effective_s for feed, one in read])
    right = [one.effective_s.low <= feed.effective_s <= one.effective_s.high for feed, one in read]
    return Afterwards(
        len(with_fade) / len(feeds),
        float(np.median(np.abs(errors))),
        float(np.sqrt(np.mean(errors**2))),
        float(np.mean(covered)),
        float(np.sqrt(np.mean(lengths**2))),
        float(lengths.mean()),
        float(np.mean(right)),
    )


def targets(
    drawn: dict[str, list[SimulatedFeed]], parameters: FeedParameters
) -> Iterator[tuple[str, str, float, bool]]:
    """What was set before, what came, and whether it was met."""
    rule = next(iter(rules(parameters).values()))
    seen = {name: offers(feeds, rule) for name, feeds in drawn.items()}
    term, later = seen["term"], afterwards(drawn["term"], parameters)

    def most(what: str, limit: float, value: float) -> tuple[str, str, float, bool]:
        return what, f"at most {limit:g}", value, value <= limit

    def within(what: str, low: float, high: float, value: float) -> tuple[str, str, float, bool]:
        return what, f"{low:g} to {high:g}", value, low <= value <= high

    yield most("term: early", 0.07, term.early)
    yield "term: found", "at least 0.78", term.found, term.found >= 0.78
    yield most("term: delay, median s", 150, term.median_s)
    yield most("term: delay, 90 % s", 195, term.late_s)
    yield most("colostrum: early", 0.07, seen["colostrum"].early)
    yield most("second world, term: early", 0.12, seen["second world, term"].early)
    yield most("away 60 s, said: early", 0.05, seen["away 60 s, said"].early)
    yield most("term: time of the fade, median error s", 10, later.fade_median_s)
    yield most("term: time of the fade, RMSE s", 40, later.fade_rmse_s)
    yield within("term: its 80 % interval covers", 0.72, 0.88, later.fade_covered)
    yield most("term: effective time, RMSE s", 60, later.effective_rmse_s)
    yield within("term: its 80 % interval covers", 0.75, 0.87, later.effective_covered)


def readings(feeds: Sequence[SimulatedFeed], parameters: FeedParameters) -> str:
    """Shares of each reading at the end, and how often 'faded' and 'swallowing' are wrong."""
    read = [(feed, read_stretch(feed.stretch, parameters)) for feed in feeds]
    shares = " | ".join(
        f"{np.mean([one.state is state for _, one in read]):.2f}" for state in State
    )
    return f"{shares} | {_wrong(read, State.FADED)} | {_wrong(read, State.SWALLOWING)}"


def _wrong(read: list[tuple[SimulatedFeed, StretchReading]], state: State) -> str:
    """Of a reading the share that is wrong: milk had flowed to the last ten seconds, or had not."""
    stayed = [feed.stretch.seconds - feed.faded_s > 10 for feed, one in read if one.state is state]
    if not stayed:
        return "-"
    wrong = [not one if state is State.FADED else one for one in stayed]
    return f"{np.mean(wrong):.3f} of {len(stayed)}"


def speed(feeds: Sequence[SimulatedFeed], parameters: FeedParameters) -> str:
    times = []
    for feed in feeds[:100]:
        begun = time.process_time()
        read_stretch(feed.stretch, parameters)
        times.append(time.process_time() - begun)
    seconds = np.mean([feed.stretch.seconds for feed in feeds[:100]])
    return (
        f"One reading of a side, anew from its first second: median {1000 * np.median(times):.0f} ms, "
        f"at most {1000 * max(times):.0f} ms of processor time ({seconds:.0f} s a side on average)."
    )


def main() -> None:
    """Simulates, reads, and writes the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--page", type=Path, default=PAGE)
    options = parser.parse_args()
    content = load()
    parameters = FeedParameters.from_content(content.flat, content.series)
    drawn = {
        name: [draw(world, rng) for _ in range(options.count)]
        for place, (name, world) in enumerate(WORLDS.items())
        for rng in [np.random.default_rng([SEED, place])]
    }
    options.page.write_text("\n".join(page(drawn, parameters, options.count)), encoding="utf-8")
    print(options.page)


def page(
    drawn: dict[str, list[SimulatedFeed]], parameters: FeedParameters, count: int
) -> list[str]:
    lines = [
        INTRODUCTION.format(count=count),
        "## Targets, set before it was written",
        "",
        TARGET_HEAD,
    ]
    lines += [
        f"| {what} | {limit} | {value:.3g} | {'yes' if is_met else '**no**'} |"
        for what, limit, value, is_met in targets(drawn, parameters)
    ]
    lines += [WEAK, "## While it is watched", ""]
    for name in list(WORLDS)[:4]:
        lines += [f"### {name.capitalize()}", "", OFFER_HEAD]
        lines += [
            f"| {rule} | {offers(drawn[name], ask)} |" for rule, ask in rules(parameters).items()
        ]
        lines.append("")
    lines += ["### The rule in use where watching goes otherwise", "", OFFER_HEAD]
    in_use = next(iter(rules(parameters).values()))
    lines += [f"| {name} | {offers(drawn[name], in_use)} |" for name in list(WORLDS)[4:]]
    lines += ["", "## Afterwards", "", AFTER_HEAD]
    lines += [f"| {name} | {afterwards(feeds, parameters)} |" for name, feeds in drawn.items()]
    lines += ["", "## What is said at the end", "", READ_HEAD]
    lines += [f"| {name} | {readings(feeds, parameters)} |" for name, feeds in drawn.items()]
    return [*lines, "", "## Time", "", speed(drawn["term"], parameters), ""]


INTRODUCTION = """# Validation: watched feeds

Written by `python -m tools.validate.watched_feed`: {count} simulated sides a row, drawn by
`tools/validate/feeds.py` in continuous time and by other rules than the model's. **No feed of a real infant was ever
compared.** The standard error of a share of .05 is .011 at 400, of .80 .020.

An offer ('offer the other side') is early where it comes more than 30 s before the last ejection ends; it is found
where the infant stays on and it comes after that and before the infant is off (a share of the seven in ten who stay); the delay counts from that
end. What is not found are mostly feeds that end first.
"""
TARGET_HEAD = "| what | target | came | met |\n|---|---:|---:|---|"
WEAK = """
Where a target is missed, the model was not fitted to these worlds until it met it.

**What was tried for the misses**, on sides of other seeds (200 or 250 a world); nothing of it was taken. In term feeds offers were early in
.055, found .75, and the interval of the fade covered .80: early offers and that interval miss no more than chance does among 400 sides.
*Swallows as regular intervals* (gamma, shape 2) instead of Poisson counts foretell the next second better, by 10 nats a term side and 8 in
the second world, but offers come no better (early .070 and .105 instead of .055 and .085, found .76 and .75), and that swallowing is so
regular is said by these worlds only. *Less added to the effective time* than 30 s: with nothing added its interval covers .80 and .86 in
term feeds, .76 and .75 in colostrum. Term feeds would have 0 to 10 s, colostrum 40 and more, all four worlds together 40 (30 costs .01 nats
a side): one figure cannot be right for both, so it stays.

**What it hangs on.** No source was found for how long lulls, bursts and pauses last. With lulls of 90 s three offers in ten come too early.
A lull looks like the end of swallowing: even a watcher who sees milk flow must wait two minutes to be early in fewer than one side of ten
(last rows of the tables). So the page offers, never finds, says how often an offer comes too early, and goes on counting.
Colostrum is often too little to tell: fewer than 30 swallows a side. Two devices that watch one feed give two readings, which are not joined; it counts as one feed.
"""
OFFER_HEAD = "| rule | early | found | delay, median s | delay, 90 % s |\n|---|---:|---:|---:|---:|"
AFTER_HEAD = (
    "| world | read as faded | fade: median error s | RMSE s | 80 % covers "
    "| effective time: RMSE (bias) s | 80 % covers |\n|---|---:|---:|---:|---:|---:|---:|"
)
READ_HEAD = (
    "| world | too little | still swallowing | perhaps | faded "
    "| 'faded' wrong | 'still swallowing' wrong |\n|---|---:|---:|---:|---:|---:|---:|"
)

if __name__ == "__main__":
    main()
