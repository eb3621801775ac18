"""An assessment written out for a terminal: red flags first, then each infant with its working."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rich.table import Table
from rich.text import Text

from suffice.assess.results import Act, FamilyAssessment, Finding, InfantAssessment, Verdict
from suffice.assess.rules.act_said import act_left_to_say
from suffice.cli.console import in_words, out, print_words
from suffice.cli.report_engine import print_estimate
from suffice.cli.report_working import print_working, value_words
from suffice.clinical.entry import Record, TestWeight, Weight
from suffice.clinical.growth.standard import STANDARDS
from suffice.clinical.reading.writing import gestation_text
from suffice.clinical.working import Figure
from suffice.knowledge.frozen import engine_then, not_asked_today
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.language.figures import figure_name
from suffice.language.kinds import KINDS, LEVELS, TIERS, VIEWS, choice_name
from suffice.language.text import sentences_of, upper_first
from suffice.message import Age, Amount, Chance, Instant, Listed, Number, Words, message
from suffice.plan.need import need_of

STYLE_OF = {"red": "bold red", "amber": "yellow", "note": "dim"}
SHOWN_ELSEWHERE = frozenset({"engine-refuses"})
"""Findings that stand word for word under 'Is it enough?'."""


def print_assessment(
    assessed: FamilyAssessment, policy: Policy, content: Content, record: Record
) -> None:
    """Print all of an assessment with its working.

    Args:
        assessed: The assessment.
        policy: How the clinic reads numbers and times.
        content: The content in force, for the workings of the engine's answer and for the age from
            which its word on intake and gain is shown. Before it every newborn takes less than
            later growth asks for, and loses weight: a probability of nearly 1 would alarm about
            what is ordinary.
        record: What was assessed, for the entries that moved the answer.
    """
    entries = _weight_entries(record)
    out.print(Text(in_words(assessed.name), style="bold"))
    print_words(
        message(
            "as of {at} ({zone}), content {content}, engine {engine}",
            at=Instant(assessed.as_of),
            zone=policy.zone,
            content=assessed.content_version,
            engine=assessed.engine_version or message("not asked"),
        )
    )
    then = engine_then(content)
    if then and assessed.engine_version and then != assessed.engine_version:
        print_words(
            message(
                "this content was frozen with engine {then}, which has changed since", then=then
            )
        )
    if then and (codes := not_asked_today(content)):
        print_words(
            message(
                "Flags of that set that cannot be asked any more, and so cannot be shown: {codes}.",
                codes=Listed(codes),
            ),
            style="bold",
        )
    reason = sentences_of(assessed.rank.reason, policy)
    tier = upper_first(in_words(TIERS[assessed.rank.tier.name]))
    out.print(Text(f"{tier}: {reason}", "bold"))
    if assessed.parent_act is not None:
        act = _act_words(assessed.parent_act, policy)
        print_words(message("For the parent: {act}", act=act), style="bold")
    _print_findings(assessed.findings, policy)
    for infant in assessed.infants:
        _print_infant(infant, policy, content, entries)
    out.print()
    print_words(
        message("Supports a licensed clinician's judgement; it neither diagnoses nor prescribes."),
        style="dim",
    )


def _print_infant(
    infant: InfantAssessment, policy: Policy, content: Content, entries: Mapping[str, str]
) -> None:
    age: Words = message("age not known")
    if infant.age_h is not None and infant.died is None:
        age = message("{age} old", age=Age(infant.age_h))
    out.print()
    name = in_words(infant.name)
    head = name if infant.died else f"{name}, {in_words(age)}"
    out.print(Text(head, style="bold underline"))
    if infant.born_at is not None:
        out.print(", ".join(in_words(part) for part in _birth(infant)), markup=False)
    if infant.died is not None:
        sentence = sentences_of([infant.died.says], policy)
        out.print(Text(f"  {sentence}", style="bold"))
    if infant.death_doubt:
        out.print(Text(f"  {sentences_of([infant.death_doubt], policy)}", style="bold"))
    if infant.verdict is not None:
        _print_verdict(infant.verdict, policy)
    _print_findings(infant.findings, policy)
    if infant.weights:
        out.print(_weight_table(infant))
    _print_weigh_again(infant, policy)
    if infant.estimate is not None:
        print_estimate(infant, infant.estimate, content, entries)
    for name, figure in infant.figures.items():
        _print_figure(name, figure)
    for name, why in infant.not_computed.items():
        reason = sentences_of([why], policy)
        missing = message("{figure}: not computed. {why}", figure=figure_name(name), why=reason)
        print_words(missing, style="dim", indent=2)
    if infant.needs:
        _print_needs(infant, content, policy)


def _print_verdict(verdict: Verdict, policy: Policy) -> None:
    """The judgement, what is done next, and what joins it with what would contradict it."""
    out.print(Text(f"  {sentences_of([verdict.headline], policy)}", style="bold"))
    out.print(f"  {_act_words(verdict.act, policy, verdict.then)}", markup=False)
    if verdict.joins:
        out.print(Text(f"  {sentences_of(verdict.joins, policy)}", style="dim"))


def _act_words(act: Act, policy: Policy, then: Words = "") -> str:
    text = sentences_of([act.says], policy)
    stop = "" if text.endswith((".", "?", "!")) else "."
    return f"{text}{stop} {sentences_of([then], policy)}".strip()


def _birth(infant: InfantAssessment) -> Iterator[Words]:
    """Instant, sex, gestation and weight at birth, as far as they are known."""
    if infant.born_at is not None:
        yield message("born {at}", at=Instant(infant.born_at))
    yield choice_name(infant.sex) or message("sex not known")
    if infant.gestation_days is not None:
        yield message("{gestation} weeks", gestation=gestation_text(infant.gestation_days))
    if infant.birth_weight_g is not None:
        yield message("{weight}", weight=Amount(infant.birth_weight_g, "g"))


def _print_findings(findings: Iterable[Finding], policy: Policy) -> None:
    for finding in findings:
        if finding.code in SHOWN_ELSEWHERE:
            continue
        line = Text(f"  {in_words(LEVELS[finding.level]):<15}", style=STYLE_OF[finding.colour])
        sentence = sentences_of(finding.messages, policy)
        if left := act_left_to_say(finding):
            sentence += f" ({in_words(left)})"
        out.print(line.append(sentence, style=""))
        if finding.handed_over:
            print_words(finding.handed_over.says, style="bold", indent=12)
        if finding.handed_over and finding.handed_over.asked:
            asked = message("Asked: {what}", what=finding.handed_over.asked)
            print_words(asked, style="dim", indent=12)
        if finding.clears and finding.level != "note":
            print_words(message("Ends with {what}.", what=finding.clears), style="dim", indent=12)


def _weight_table(infant: InfantAssessment) -> Table:
    title = in_words(message("Weights"))
    table = Table(box=None, pad_edge=False, title=title, title_justify="left")
    headings = (
        *(message("when"), message("age"), message("weight"), message("from birth")),
        *(message("from 24 h"), "z", message("centile")),
    )
    for heading in headings:
        table.add_column(in_words(heading), no_wrap=True)
    table.add_column(in_words(message("how")), overflow="fold")
    for row in infant.weights:
        parts = (choice_name(row.clothing), row.scale or "", STANDARDS.get(row.standard, ""))
        how = ", ".join(in_words(part) for part in parts if part)
        if row.p_wrong:
            how += in_words(message("; looks wrong: {chance}", chance=Chance(row.p_wrong)))
        table.add_row(
            in_words(message("{at}", at=Instant(row.at))),
            in_words(message("{age}", age=Age(row.age_h))),
            in_words(message("{weight}", weight=Amount(row.weight_g, "g"))),
            _change(row.change_percent, "%", 1),
            _change(row.change_from_24h_percent, "%", 1),
            _change(row.z, "1", 2),
            "" if row.centile is None else in_words(message("{n}", n=Number(row.centile, 1))),
            how,
        )
    return table


def _change(value: float | None, unit: str, decimals: int) -> str:
    if value is None:
        return ""
    return in_words(message("{n}", n=Amount(value, unit, decimals=decimals, signed=True)))


def _print_figure(name: str, figure: Figure) -> None:
    line = message("{figure}: {value}", figure=figure_name(name), value=value_words(figure))
    if figure.low is not None and figure.high is not None:
        level: Words = message("range")
        if figure.level is not None:
            level = message("{level} % interval", level=Number(100 * figure.level, 0))
        line = message(
            "{line} ({level} {low} to {high})",
            line=line,
            level=level,
            low=Amount(figure.low, figure.unit),
            high=Amount(figure.high, figure.unit),
        )
    print_words(line, indent=2)
    print_working(figure.working)


def _print_needs(infant: InfantAssessment, content: Content, policy: Policy) -> None:
    need = need_of(infant, content)
    out.print(f"  {sentences_of(need.messages(), policy)}", markup=False)
    print_words(message("How much a day, by source:"), indent=2)
    for view in infant.needs:
        if view.volume_ml_per_day is not None:
            line = message(
                "{volume}: {name} ({kind})",
                volume=Amount(view.volume_ml_per_day.value, "mL/d"),
                name=in_words(view.name),
                kind=VIEWS[view.kind],
            )
            print_words(line, indent=6)
        elif view.refusal is not None:
            none = message(
                "none: {name}; {why}", name=in_words(view.name), why=in_words(view.refusal.why)
            )
            print_words(none, style="dim", indent=6)


def _print_weigh_again(infant: InfantAssessment, policy: Policy) -> None:
    advice = infant.weigh_again
    if advice is None:
        return
    sentence = sentences_of(advice.messages, policy)
    print_words(message("When to weigh again: {advice}", advice=sentence), indent=2)
    if advice.working is not None:
        print_working(advice.working)


def _weight_entries(record: Record) -> dict[str, str]:
    """Entry id to the weight or the test weight that it tells, with its time."""
    found = {}
    for entry in record.entries:
        fact = entry.fact
        if isinstance(fact, Weight):
            what = message("{weight}", weight=Amount(fact.weight_g, "g"))
            kind = KINDS["weight"]
        elif isinstance(fact, TestWeight):
            what = message(
                "{before} before, {after} after",
                before=Amount(fact.before_g, "g"),
                after=Amount(fact.after_g, "g"),
            )
            kind = KINDS["test weight"]
        else:
            continue
        line = message("{kind}, {at}: {what}", kind=kind, at=Instant(entry.true_at), what=what)
        found[str(entry.id)] = in_words(line)
    return found
