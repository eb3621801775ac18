"""The caseload, and what an import would do, written out for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from rich.table import Table
from rich.text import Text

from suffice.assess.results import HAS_DIED, Tier
from suffice.care.caseload.listing import CaseloadRow
from suffice.care.caseload.ranked import Ranked
from suffice.care.family.transfer import FamilyPreview
from suffice.cli.console import err, in_words, out, print_words, problem_line, speaking
from suffice.clinical.age import elapsed_h
from suffice.exchange.table.importing import Preview
from suffice.knowledge.policy import Policy
from suffice.language.kinds import KINDS, OUTDATED, TIERS
from suffice.language.text import sentences_of, text_of
from suffice.language.times import age_text, due_text, instant_text
from suffice.message import Instant, Listed, Words, message

STYLES = {
    Tier.NOW: "bold red",
    Tier.TODAY: "red",
    Tier.WITHIN_A_DAY: "yellow",
    Tier.NOT_KNOWN: "yellow",
    Tier.SETTLED: "dim",
}
FAMILIES = message("{count} family: {tiers}.", plural="{count} families: {tiers}.")
WAITING = message(
    "{count} family waits to be assessed again: suffice refresh",
    plural="{count} families wait to be assessed again: suffice refresh",
)


def print_caseload(
    rows: Sequence[CaseloadRow], outdated_count: int, policy: Policy, now: datetime
) -> None:
    """Print families as they were last ranked, with what is out of date said so.

    Args:
        rows: The families, in the order in which they are printed.
        outdated_count: How many of the whole caseload wait to be assessed anew.
        policy: How the clinic reads numbers and times.
        now: The instant, for ages and for what is due.
    """
    table = _table(message("age"), message("due"))
    zone = ZoneInfo(policy.zone)
    for row in rows:
        reason = sentences_of(row.reason, policy, now)
        if row.outdated is not None and row.as_of is not None:
            since = message(
                "[as of {at}; {why}]", at=Instant(row.as_of), why=OUTDATED[row.outdated.name]
            )
            reason = f"{reason} {text_of(since, policy, now)}"
        due = row.next_due_at
        table.add_row(
            str(row.place),
            _tier(row.tier),
            in_words(row.name),
            _ages(row, policy, now),
            due_text(due, now, zone, policy.language, policy.date_order) if due else "",
            Text(reason),
        )
    out.print(table)
    if outdated_count:
        print_words(WAITING.with_params(count=outdated_count), to=err)


def _ages(row: CaseloadRow, policy: Policy, now: datetime) -> str:
    """The age of each infant, one of those that are alike."""
    ages = (
        in_words(HAS_DIED) if one.died_at else age_text(elapsed_h(born, now), policy.language)
        for one in row.infants
        if (born := one.born_at) is not None and born <= now
    )
    return ", ".join(dict.fromkeys(ages))


def print_ranked(rows: Sequence[Ranked], policy: Policy, limit: int | None) -> None:
    """Print families that were ranked for this question only."""
    table = _table()
    for place, row in enumerate(rows[:limit], start=1):
        reason = Text(sentences_of(row.rank.reason, policy))
        table.add_row(str(place), _tier(row.rank.tier), in_words(row.name), reason)
    out.print(table)
    counts = {tier: sum(1 for row in rows if row.rank.tier is tier) for tier in Tier}
    tiers = tuple(
        message("{count} {tier}", count=str(count), tier=TIERS[tier.name])
        for tier, count in counts.items()
        if count
    )
    print_words(FAMILIES.with_params(count=len(rows), tiers=Listed(tiers)))


def _tier(tier: Tier | None) -> Text:
    return Text("?") if tier is None else Text(in_words(TIERS[tier.name]), STYLES.get(tier, ""))


def print_preview(shown: Preview) -> None:
    """Print what a table's columns mean and how its first rows are read.

    What a column is read as stands in the words that --column takes.
    """
    rows = message("{count} row", plural="{count} rows", count=shown.row_count)
    parts = (in_words(rows), shown.encoding, *(in_words(one) for one in shown.shown_by))
    out.print("; ".join(part for part in parts if part), markup=False)
    columns = _headed(message("column"), message("is read as"), "")
    for column in shown.columns:
        meaning = " ".join(part for part in (str(column.field), column.unit) if part)
        how = message("guessed") if column.is_guess else message("as you said")
        columns.add_row(column.header, meaning, in_words(how))
    out.print(columns)
    for row in shown.rows:
        read = "; ".join(in_words(one) for one in row.read_as) or in_words(message("nothing"))
        print_words(message("row {number}: {read}", number=row.number, read=read))
        for problem in row.problems:
            out.print(f"    {problem_line(problem)}", markup=False)


INFANTS = message("{count} infant", plural="{count} infants")


def print_family_preview(shown: FamilyPreview, zone: str) -> None:
    """Print what importing a family file would add, what is there already, and from when to when."""
    place, policy = ZoneInfo(zone), speaking()
    state = message("would be opened") if shown.is_new else message("is on the record")
    print_words(
        message(
            "Family {id} {state}: {infants}. Entries that would be added: {new}; there already:"
            " {there}.",
            id=str(shown.record.family_id),
            state=state,
            infants=INFANTS.with_params(count=len(shown.record.infants)),
            new=shown.new_count,
            there=shown.there_count,
        )
    )
    kinds = _headed(
        *(message("kind"), message("new"), message("there")),
        *(message("first"), message("last")),
    )
    for kind in shown.kinds:
        ends = (
            instant_text(at, place, policy.language, year=True, order=policy.date_order)
            for at in (kind.first_at, kind.last_at)
        )
        name = in_words(KINDS[kind.kind])
        kinds.add_row(name, str(kind.new_count), str(kind.there_count), *ends)
    out.print(kinds)


def _headed(*headings: Words) -> Table:
    table = Table(box=None, pad_edge=False)
    for heading in headings:
        table.add_column(in_words(heading))
    return table


def _table(*more: Words) -> Table:
    """A table of families; `more` columns stand between the name and the reason."""
    table = Table(box=None, pad_edge=False)
    table.add_column("#", justify="right")
    table.add_column("", no_wrap=True)
    table.add_column(in_words(message("family")), no_wrap=True)
    for heading in more:
        table.add_column(in_words(heading), no_wrap=True)
    table.add_column(in_words(message("why")), overflow="fold")
    return table
