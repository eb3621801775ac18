"""The caseload written out for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from rich.table import Table
from rich.text import Text

from suffice.assess.results import Tier
from suffice.care.caseload.listing import Caseload
from suffice.care.caseload.ranked import Ranked
from suffice.care.family.transfer import FamilyPreview
from suffice.cli.console import err, out
from suffice.exchange.table.importing import Preview
from suffice.knowledge.policy import Policy
from suffice.language.amounts import instant_said
from suffice.language.text import sentences_of, text_of

TIER_SAID = {
    Tier.RED: Text("RED", style="bold red"),
    Tier.LIKELY_SHORT: Text("likely short", style="yellow"),
    Tier.OVERDUE: Text("overdue", style="yellow"),
    Tier.WATCH: Text("watch"),
    Tier.SETTLED: Text("settled", style="dim"),
}


def print_caseload(listed: Caseload, policy: Policy, limit: int | None) -> None:
    """Print the caseload as it was last computed, with what is out of date said so."""
    zone = ZoneInfo(policy.zone)
    table = _table()
    for row in listed.rows[:limit]:
        tier = Text("?") if row.tier is None else TIER_SAID[row.tier]
        reason = sentences_of(row.reason, policy)
        if row.outdated is not None and row.as_of is not None:
            reason += f" [as of {instant_said(row.as_of, zone)}; {row.outdated.value}]"
        table.add_row(str(row.place), tier, text_of(row.name, policy), Text(reason))
    out.print(table)
    if listed.outdated_count:
        err.print(f"{listed.outdated_count} families wait to be assessed anew: suffice refresh")


def print_ranked(rows: Sequence[Ranked], policy: Policy, limit: int | None) -> None:
    """Print families that were ranked for this question only."""
    table = _table()
    for place, row in enumerate(rows[:limit], start=1):
        rank = row.rank
        table.add_row(str(place), TIER_SAID[rank.tier], *_in_words(row, policy))
    out.print(table)
    counts = {tier: sum(1 for row in rows if row.rank.tier is tier) for tier in Tier}
    said = ", ".join(f"{count} {TIER_SAID[tier]}" for tier, count in counts.items() if count)
    out.print(f"{len(rows)} families: {said}.", markup=False)


def _in_words(row: Ranked, policy: Policy) -> tuple[str, Text]:
    return text_of(row.name, policy), Text(sentences_of(row.rank.reason, policy))


def print_preview(shown: Preview) -> None:
    """Print what a table's columns mean and how its first rows are read."""
    out.print(f"{shown.row_count} rows, {shown.encoding}; {shown.shown_by}".rstrip("; "))
    columns = Table(box=None, pad_edge=False)
    for heading in ("column", "is read as", ""):
        columns.add_column(heading)
    for column in shown.columns:
        meaning = " ".join(part for part in (column.field.value, column.unit) if part)
        columns.add_row(column.header, meaning, "guessed" if column.is_guess else "as you said")
    out.print(columns)
    for row in shown.rows:
        out.print(f"row {row.number}: {'; '.join(row.read_as) or 'nothing'}", markup=False)
        for problem in row.problems:
            out.print(f"    {problem}", markup=False)


def print_family_preview(shown: FamilyPreview, zone: str) -> None:
    """Print what importing a family file would add, what is there already, and from when to when."""
    place = ZoneInfo(zone)
    infants = len(shown.record.infants)
    state = "would be opened" if shown.is_new else "is on the record"
    out.print(
        f"Family {shown.record.family_id} {state}: {infants} infant{'s' * (infants > 1)},"
        f" {shown.new_count} entries would be added, {shown.there_count} are there already.",
        markup=False,
    )
    kinds = Table(box=None, pad_edge=False)
    for heading in ("kind", "new", "there", "first", "last"):
        kinds.add_column(heading, justify="right" if heading in {"new", "there"} else "left")
    for kind in shown.kinds:
        ends = (f"{at.astimezone(place):%Y-%m-%d %H:%M}" for at in (kind.first_at, kind.last_at))
        kinds.add_row(kind.kind, str(kind.new_count), str(kind.there_count), *ends)
    out.print(kinds)


def _table() -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("#", justify="right")
    table.add_column("", no_wrap=True)
    table.add_column("family", no_wrap=True)
    table.add_column("why", overflow="fold")
    return table
