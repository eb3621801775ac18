"""The reading of watched feeds on simulated ones, beside rules of thumb and an all-knowing watcher.

python -m tools.validate.watched_feed [--count N] [--page PAGE.md]

An offer is **early** where it comes more than 30 s before the last ejection ends. A fade is **found**
where the offer comes at or after that and before the infant is off; the delay counts from the end of
the last ejection.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
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


def offers(feeds: Sequence[SimulatedFeed], rule: Rule) -> str:
    """Early, found, median and 90th percentile of the delay, as cells."""
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
    times = f"{np.median(delays):.0f} | {np.quantile(delays, 0.9):.0f}" if delays else "- | -"
    return f"{early / len(feeds):.3f} | {found:.2f} | {times}"


def afterwards(feeds: Sequence[SimulatedFeed], parameters: FeedParameters) -> str:
    """Errors and coverage of the fade and of the effective time, and how often a reading is right."""
    read = [(feed, read_stretch(feed.stretch, parameters)) for feed in feeds]
    with_fade = [(feed, one.faded_ms) for feed, one in read if one.faded_ms]
    errors = np.array([one.value / 1000 - feed.faded_s for feed, one in with_fade])
    covered = np.mean(
        [one.low / 1000 - 1 <= feed.faded_s <= one.high / 1000 + 1 for feed, one in with_fade]
    )
    lengths = np.array([one.effective_s.value - feed.effective_s for feed, one in read])
    right = np.mean(
        [one.effective_s.low <= feed.effective_s <= one.effective_s.high for feed, one in read]
    )
    return " | ".join(
        (
            f"{len(with_fade) / len(feeds):.2f}",
            f"{np.median(np.abs(errors)):.0f}",
            f"{np.sqrt(np.mean(errors**2)):.0f}",
            f"{covered:.2f}",
            f"{np.sqrt(np.mean(lengths**2)):.0f} ({lengths.mean():+.0f})",
            f"{right:.2f}",
        )
    )


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
    lines = [INTRODUCTION.format(count=count), "## While it is watched", ""]
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

Targets, set before: term early at most .07, found at least .78, delay at most 150 s in the median and 195 s in 90 %; colostrum early at
most .07; second world early at most .12; away and said at most .05. Time of the fade (term): median error at most 10 s, RMSE at most
40 s, 80 % interval covers .72 to .88; effective time RMSE at most 60 s, covers .75 to .87. 'Faded' wrong in at most .03, 'still swallowing' in at most .04.
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
