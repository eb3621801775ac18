"""An assessment written out for a terminal: red flags first, then each infant with its working."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from zoneinfo import ZoneInfo

from rich.table import Table
from rich.text import Text

from suffice.assess.engine.answers import (
    EngineAnswer,
    engine_answers,
    forecast_ahead,
    forecast_working,
    moved_most,
)
from suffice.assess.engine.ask import speaks_of_intake
from suffice.assess.results import FamilyAssessment, Finding, InfantAssessment
from suffice.cli.console import out
from suffice.clinical.entry import Record, TestWeight, Weight
from suffice.clinical.reading.writing import chance_text, number_text
from suffice.clinical.working import Constant, Figure, Quantity, Working
from suffice.inference.estimate import Estimate
from suffice.knowledge.frozen import engine_then
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content
from suffice.language.amounts import (
    age_said,
    amount_said,
    decimals_said,
    figure_said,
    instant_said,
)
from suffice.language.text import sentences_of, text_of
from suffice.plan.need import need_of

STYLE_OF = {"red": "bold red", "amber": "yellow", "note": "dim"}
SAID_ELSEWHERE = frozenset({"engine-refuses"})
"""Findings that stand word for word under 'Is it enough?'."""
MARK_OF = {"red": "RED", "amber": "look", "note": "note"}


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
    zone = ZoneInfo(policy.zone)
    entries = _entries_said(record, policy, zone)
    out.print(Text(text_of(assessed.name, policy), style="bold"))
    out.print(
        f"as of {instant_said(assessed.as_of, zone)} ({policy.zone}),"
        f" content {assessed.content_version}, engine {assessed.engine_version or 'not asked'}"
    )
    then = engine_then(content)
    if then and assessed.engine_version and then != assessed.engine_version:
        out.print(f"this content was frozen with engine {then}, which has changed since")
    reason = sentences_of(assessed.rank.reason, policy)
    out.print(Text(f"{assessed.rank.tier.name.replace('_', ' ')}: {reason}", "bold"))
    _print_findings(assessed.findings, policy)
    for infant in assessed.infants:
        _print_infant(infant, policy, zone, content, entries)
    out.print(
        "\nSupports a licensed clinician's judgement; neither diagnoses nor prescribes.",
        style="dim",
    )


def _print_infant(
    infant: InfantAssessment,
    policy: Policy,
    zone: ZoneInfo,
    content: Content,
    entries: Mapping[str, str],
) -> None:
    age = "age not known" if infant.age_h is None else f"{age_said(infant.age_h)} old"
    out.print()
    out.print(Text(f"{text_of(infant.name, policy)}, {age}", style="bold underline"))
    if infant.born_at is not None:
        born = [f"born {instant_said(infant.born_at, zone)}", infant.sex or "sex not known"]
        if infant.gestation_days is not None:
            born.append(f"{infant.gestation_days // 7}+{infant.gestation_days % 7} weeks")
        if infant.birth_weight_g is not None:
            born.append(amount_said(infant.birth_weight_g, "g", policy))
        out.print(", ".join(born), markup=False)
    _print_findings(infant.findings, policy)
    if infant.weights:
        out.print(_weight_table(infant, policy, zone))
    _print_weigh_again(infant, policy)
    if infant.estimate is not None:
        _print_estimate(infant, infant.estimate, content, policy, entries)
    for name, figure in infant.figures.items():
        _print_figure(name, figure, policy)
    for name, why in infant.not_computed.items():
        out.print(
            f"  {figure_said(name)}: not computed. {sentences_of([why], policy)}",
            style="dim",
            markup=False,
        )
    if infant.needs:
        _print_needs(infant, content, policy)


def _print_findings(findings: Iterable[Finding], policy: Policy) -> None:
    for finding in findings:
        if finding.code in SAID_ELSEWHERE:
            continue
        line = Text(f"  {MARK_OF[finding.level]:<5}", style=STYLE_OF[finding.level])
        said = sentences_of(finding.messages, policy)
        if finding.to_whom:
            said += f" ({text_of(finding.to_whom, policy)})"
        out.print(line.append(said, style=""))


def _weight_table(infant: InfantAssessment, policy: Policy, zone: ZoneInfo) -> Table:
    table = Table(box=None, pad_edge=False, title="Weights", title_justify="left")
    for heading in ("when", "age", "weight", "from birth", "from 24 h", "z", "centile"):
        table.add_column(heading, no_wrap=True)
    table.add_column("how", overflow="fold")
    for row in infant.weights:
        how = ", ".join(part for part in (row.clothing, row.scale, row.standard) if part)
        if row.p_wrong:
            how += f"; looks wrong: {chance_text(row.p_wrong)}"
        table.add_row(
            instant_said(row.at, zone),
            age_said(row.age_h),
            amount_said(row.weight_g, "g", policy),
            _percent(row.change_percent),
            _percent(row.change_from_24h_percent),
            "" if row.z is None else f"{row.z:+.2f}",
            "" if row.centile is None else f"{row.centile:.1f}",
            how,
        )
    return table


def _percent(value: float | None) -> str:
    return "" if value is None else f"{value:+.1f} %"


def _print_figure(name: str, figure: Figure, policy: Policy) -> None:
    line = f"  {figure_said(name)}: {_value(figure.value, figure.unit, policy)}"
    if figure.low is not None and figure.high is not None:
        level = f"{100 * figure.level:.0f} % interval" if figure.level is not None else "range"
        line += (
            f" ({level} {_value(figure.low, figure.unit, policy)}"
            f" to {_value(figure.high, figure.unit, policy)})"
        )
    out.print(line, markup=False)
    _print_working(figure.working, policy)


def _print_working(working: Working, policy: Policy) -> None:
    for part in _working_lines(working, policy):
        out.print(f"      {part}", style="dim", markup=False)


def _value(value: float, unit: str, policy: Policy) -> str:
    if unit == "1":
        return f"{value:.2f}"
    return f"{value:.0f} h" if unit == "h" else amount_said(value, unit, policy)


def _working_lines(working: Working, policy: Policy) -> Iterable[str]:
    yield text_of(working.formula, policy)
    if working.inputs:
        yield "; ".join(
            f"{text_of(one.name, policy)} = {_input(one, policy)}" for one in working.inputs
        )
    for constant in working.constants:
        said = f"{constant.key} = {_exactly(constant)} ({constant.basis}"
        # Common practice and memory say so in the source itself.
        said += f": {constant.source})" if constant.basis == "published" else ")"
        if constant.overridden_from is not None:
            said += f", the clinic's value in place of {constant.overridden_from:g}"
        yield said
    yield from (text_of(note, policy) for note in working.notes)


def _input(one: Quantity, policy: Policy) -> str:
    """What went into a formula, rounded as the pages do; a bare number and a count show no unit."""
    if one.unit in {"g", "mL", "mL/d", "Cel"}:
        return amount_said(one.value, one.unit, policy)
    rounded = number_text(one.value, step=Decimal(1).scaleb(-decimals_said(one.value, one.unit)))
    unit = UNITS_OF_INPUTS.get(one.unit, one.unit)
    return f"{rounded} {unit}".rstrip().replace("-", "\N{MINUS SIGN}", rounded.count("-"))


def _exactly(constant: Constant) -> str:
    """A constant as its source gives it, in the unit of its source."""
    return f"{constant.value:g} {UNITS_PLAIN.get(constant.unit, constant.unit)}".rstrip()


UNITS_PLAIN = {"1": "", "count": "", "{#}/d": "a day", "Cel": "°C"}
UNITS_OF_INPUTS = {
    **UNITS_PLAIN,
    "percent": "%",
    "g/d": "g/day",
    "mL/d": "mL/day",
    "kcal/d": "kcal/day",
    "g/kg/d": "g/kg/day",
    "mL/kg/d": "mL/kg/day",
    "kcal/kg/d": "kcal/kg/day",
}


def _print_needs(infant: InfantAssessment, content: Content, policy: Policy) -> None:
    need = need_of(infant, content)
    out.print(f"  {sentences_of(need.messages(), policy)}", markup=False)
    out.print("  How much a day, by source:")
    for view in infant.needs:
        if view.volume_ml_per_day is not None:
            amount = amount_said(view.volume_ml_per_day.value, "mL/d", policy)
            out.print(f"      {amount}: {view.name} ({view.kind})", markup=False)
        elif view.refusal is not None:
            out.print(f"      none: {view.name}; {view.refusal.why}", style="dim", markup=False)


def _print_weigh_again(infant: InfantAssessment, policy: Policy) -> None:
    advice = infant.weigh_again
    if advice is None:
        return
    out.print(f"  When to weigh again: {sentences_of(advice.messages, policy)}", markup=False)
    if advice.working is not None:
        _print_working(advice.working, policy)


def _print_estimate(
    infant: InfantAssessment,
    estimate: Estimate,
    content: Content,
    policy: Policy,
    entries: Mapping[str, str],
) -> None:
    out.print("  Is it enough? The engine's answer from all the evidence:")
    for suspect in estimate.suspects:
        out.print(f"    {chance_text(suspect.probability)} wrong: {suspect.ask}", markup=False)
    for caution in estimate.cautions:
        out.print(f"    {caution.severity}: {caution.sentence}", markup=False)
    if estimate.is_refused:
        return
    if not speaks_of_intake(estimate, content):
        asked_from_d = content.constant("ranking.likely_short_from_age_d").value
        out.print(f"    {_silent(estimate, asked_from_d)}")
    for answer in engine_answers(estimate, content, infant.engine_facts):
        name = ANSWERS_SAID[answer.key].format(
            limit=f"{estimate.question.gain_limit_g_per_day:g}",
            day=f"{estimate.question.regain_day:g}",
        )
        out.print(f"    {name}: {_answer(answer, policy)}", markup=False)
        _print_working(answer.working, policy)
    if infant.weights:
        _print_forecast(infant, estimate, content, policy)
    if speaks_of_intake(estimate, content):
        _print_moved(estimate, policy, entries)
    for sentence in (
        estimate.volume_sentence,
        estimate.limits_sentence,
        estimate.calibration_sentence,
    ):
        out.print(f"    {sentence}", style="dim")


def _print_forecast(
    infant: InfantAssessment, estimate: Estimate, content: Content, policy: Policy
) -> None:
    ahead = "; ".join(
        f"in {one.in_days:.0f} days {amount_said(one.median_g, 'g', policy)}"
        f" (80 % {amount_said(one.low_80_g, 'g', policy)}"
        f" to {amount_said(one.high_80_g, 'g', policy)})"
        for one in forecast_ahead(estimate)
    )
    out.print(f"    forecast of the weight: {ahead}", markup=False)
    _print_working(forecast_working(estimate, content, infant.engine_facts), policy)


def _print_moved(estimate: Estimate, policy: Policy, entries: Mapping[str, str]) -> None:
    moved = moved_most(estimate)
    if moved:
        out.print("    what moved this (the answer with each less the answer without it):")
    for one in moved:
        volume = amount_said(one.intake_shift_ml_per_day, "mL/d", policy)
        gain = amount_said(one.gain_shift_g_per_day, "g/d", policy)
        points = amount_said(100 * one.short_probability_shift, "points", policy)
        of_many = MOVED_SAID.get(one.kind) or MOVED_SAID.get(one.reading_id, one.kind)
        what = entries.get(one.reading_id, of_many)
        out.print(
            f"      {what}: intake at the breast {_signed(volume)}, gain {_signed(gain)},"
            f" probability that intake is short {_signed(points)}"
            f"{' (roughly)' if one.rough else ''}",
            markup=False,
        )


MOVED_SAID = {
    "wet": "the wets counted",
    "stool": "the stools counted",
    "milk given": "the milk given beside the breast",
}
"""What stands for many entries, by its name or its kind in the answer."""


def _signed(said: str) -> str:
    """A shift with its sign, unless it rounds to nothing."""
    number = said.split(maxsplit=1)[0].lstrip("\N{MINUS SIGN}")
    if not number.strip("0."):
        return said.lstrip("\N{MINUS SIGN}")
    return said if said.startswith("\N{MINUS SIGN}") else f"+{said}"


def _entries_said(record: Record, policy: Policy, zone: ZoneInfo) -> dict[str, str]:
    """Entry id to the weight or the test weight that it tells, with its time."""
    said = {}
    for entry in record.entries:
        when, fact = instant_said(entry.true_at, zone), entry.fact
        if isinstance(fact, Weight):
            said[str(entry.id)] = f"weight, {when}: {amount_said(fact.weight_g, 'g', policy)}"
        elif isinstance(fact, TestWeight):
            before, after = (amount_said(g, "g", policy) for g in (fact.before_g, fact.after_g))
            said[str(entry.id)] = f"test weight, {when}: {before} before, {after} after"
    return said


ANSWERS_SAID = {
    "total_intake": "intake in all",
    "breast_intake": "intake at the breast",
    "requirement": "requirement",
    "share_of_requirement": "share of the requirement",
    "gain": "gain now",
    "present_weight": "weight now, freed of noise",
    "regain_age_d": "back at birth weight, day",
    "intake_short_probability": "intake is short",
    "gain_below_limit_probability": "gain is below {limit} g/day",
    "not_regained_probability": "birth weight not regained by day {day}",
    "least_difference_g": "two weights on this scale differ by more than noise from",
    "standing": "infants of the model, of this age and mode, that have lost more",
}


def _silent(estimate: Estimate, asked_from_d: float) -> str:
    """Why neither intake nor gain is told."""
    if estimate.age_d < asked_from_d:
        return (
            f"before day {asked_from_d:g} neither intake nor gain is judged: every newborn takes"
            " little at first and loses weight; the loss, the wets and the stools count"
        )
    return "without a weight after birth or a test weight neither intake nor gain can be judged"


def _answer(answer: EngineAnswer, policy: Policy) -> str:
    """A number of the engine's answer: a median with all its intervals, or the number alone."""
    value = answer.value
    if answer.interval is None:
        if value is None:
            return ""
        if answer.key == "least_difference_g":
            return amount_said(value, "g", policy)
        return chance_text(value / 100 if answer.key == "standing" else value)
    one = answer.interval
    spans = (
        ("50", one.low_50, one.high_50),
        ("80", one.low_80, one.high_80),
        ("95", one.low_95, one.high_95),
    )
    told = ", ".join(
        f"{level} % {_bare(_number(answer, low, policy))} to {_number(answer, high, policy)}"
        for level, low, high in spans
    )
    return f"{_number(answer, one.median, policy)} ({told})"


def _bare(amount: str) -> str:
    """An amount without its unit, where the same one follows."""
    return amount if amount.endswith("later") else amount.rsplit(maxsplit=1)[0]


def _number(answer: EngineAnswer, value: float, policy: Policy) -> str:
    if answer.capped_at is not None and value >= answer.capped_at:
        return f"{value:.0f} or later"
    if answer.key == "share_of_requirement":
        return f"{100 * value:.0f} %"
    if answer.key == "regain_age_d":
        return f"{value:.0f}"
    return amount_said(value, answer.interval.unit if answer.interval else "1", policy)
