"""An assessment written out for a terminal: red flags first, then each infant with its working."""

from __future__ import annotations

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from rich.table import Table
from rich.text import Text

from suffice.care.engine import knows_no_intake
from suffice.care.policy import Policy
from suffice.care.results import FamilyAssessment, Finding, InfantAssessment
from suffice.care.wording import age_said, amount_said, figure_said, instant_said
from suffice.cli.console import out
from suffice.clinical.working import Figure, Working
from suffice.clinical.writing import chance_text
from suffice.inference.estimate import Estimate, Interval

STYLE_OF = {"red": "bold red", "amber": "yellow", "note": "dim"}
MARK_OF = {"red": "RED", "amber": "look", "note": "note"}


def print_assessment(assessed: FamilyAssessment, policy: Policy, *, asked_from_d: float) -> None:
    """Print all of an assessment with its working.

    Args:
        assessed: The assessment.
        policy: How the clinic reads numbers and times.
        asked_from_d: Age in days from which the engine's word on intake and gain is shown. Before
            it every newborn takes less than later growth asks for, and loses weight: a
            probability of nearly 1 would alarm about what is ordinary.
    """
    zone = ZoneInfo(policy.zone)
    out.print(Text(assessed.name, style="bold"))
    out.print(
        f"as of {instant_said(assessed.as_of, zone)} ({policy.zone}),"
        f" content {assessed.content_version}, engine {assessed.engine_version or 'not asked'}"
    )
    out.print(Text(f"{assessed.rank.tier.name.replace('_', ' ')}: {assessed.rank.reason}", "bold"))
    _print_findings(assessed.findings)
    for infant in assessed.infants:
        _print_infant(infant, policy, zone, asked_from_d=asked_from_d)
    out.print(
        "\nSupports a licensed clinician's judgement; neither diagnoses nor prescribes.",
        style="dim",
    )


def _print_infant(
    infant: InfantAssessment, policy: Policy, zone: ZoneInfo, *, asked_from_d: float
) -> None:
    age = "age not known" if infant.age_h is None else f"{age_said(infant.age_h)} old"
    out.print()
    out.print(Text(f"{infant.name}, {age}", style="bold underline"))
    if infant.born_at is not None:
        born = [f"born {instant_said(infant.born_at, zone)}", infant.sex or "sex not known"]
        if infant.gestation_days is not None:
            born.append(f"{infant.gestation_days // 7}+{infant.gestation_days % 7} weeks")
        if infant.birth_weight_g is not None:
            born.append(amount_said(infant.birth_weight_g, "g", policy))
        out.print(", ".join(born), markup=False)
    _print_findings(infant.findings)
    if infant.weights:
        out.print(_weight_table(infant, policy, zone))
    for name, figure in infant.figures.items():
        _print_figure(name, figure, policy)
    for name, why in infant.not_computed.items():
        out.print(f"  {figure_said(name)}: not computed. {why}", style="dim", markup=False)
    if infant.needs:
        _print_needs(infant, policy)
    if infant.estimate is not None:
        _print_estimate(infant.estimate, asked_from_d=asked_from_d)


def _print_findings(findings: Iterable[Finding]) -> None:
    for finding in findings:
        line = Text(f"  {MARK_OF[finding.level]:<5}", style=STYLE_OF[finding.level])
        said = finding.sentence + (f" ({finding.to_whom})" if finding.to_whom else "")
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
    for part in _working_lines(figure.working):
        out.print(f"      {part}", style="dim", markup=False)


def _value(value: float, unit: str, policy: Policy) -> str:
    if unit == "1":
        return f"{value:.2f}"
    return f"{value:.0f} h" if unit == "h" else amount_said(value, unit, policy)


def _working_lines(working: Working) -> Iterable[str]:
    yield working.formula
    if working.inputs:
        yield "; ".join(f"{one.name} = {_plain(one.value, one.unit)}" for one in working.inputs)
    for constant in working.constants:
        said = f"{constant.key} = {_plain(constant.value, constant.unit)} ({constant.basis}"
        # Common practice and memory say so in the source itself.
        said += f": {constant.source})" if constant.basis == "published" else ")"
        if constant.overridden_from is not None:
            said += f", the clinic's value in place of {constant.overridden_from:g}"
        yield said
    yield from working.notes


def _plain(value: float, unit: str) -> str:
    """A number as it went into a formula; a bare one shows no unit."""
    return f"{value:g}" if unit == "1" else f"{value:g} {unit}"


def _print_needs(infant: InfantAssessment, policy: Policy) -> None:
    out.print("  How much a day, by source:")
    for view in infant.needs:
        if view.volume_ml_per_day is not None:
            amount = amount_said(view.volume_ml_per_day.value, "mL/d", policy)
            out.print(f"      {amount}: {view.name} ({view.kind})", markup=False)
        elif view.refusal is not None:
            out.print(f"      none: {view.name}; {view.refusal.why}", style="dim", markup=False)


def _print_estimate(estimate: Estimate, *, asked_from_d: float) -> None:
    out.print("  Is it enough? The engine's answer from all the evidence:")
    for caution in estimate.cautions:
        out.print(f"      {caution.severity}: {caution.sentence}", markup=False)
    if estimate.is_refused:
        return
    if estimate.age_d < asked_from_d:
        out.print(
            f"      before day {asked_from_d:g} neither intake nor gain is judged: every newborn"
            " takes little at first and loses weight; the loss, the wets and the stools count"
        )
    elif knows_no_intake(estimate):
        out.print("      without a weight after birth neither intake nor gain can be judged")
    else:
        _print_intake_and_gain(estimate)
    if estimate.not_regained_probability is not None:
        day = estimate.question.regain_day
        late = chance_text(estimate.not_regained_probability)
        out.print(f"      birth weight not regained by day {day:g}: {late}")
    if estimate.age_d >= asked_from_d:
        out.print(f"      weigh again: {estimate.next_weighing.because}", markup=False)
    out.print(f"      {estimate.volume_sentence}", style="dim")
    out.print(f"      {estimate.limits_sentence}", style="dim")
    out.print(f"      {estimate.calibration_sentence}", style="dim")


def _print_intake_and_gain(estimate: Estimate) -> None:
    for name, interval in (
        ("intake, all", estimate.total_intake),
        ("intake at the breast", estimate.breast_intake),
        ("requirement", estimate.requirement),
        ("gain", estimate.gain),
    ):
        out.print(f"      {name}: {_interval(interval)}", markup=False)
    out.print(f"      intake is short: {chance_text(estimate.intake_short_probability)}")
    below = chance_text(estimate.gain_below_limit_probability)
    limit = estimate.question.gain_limit_g_per_day
    out.print(f"      gain is below {limit:g} g/day: {below}")


def _interval(interval: Interval) -> str:
    return (
        f"{interval.median:.0f} {interval.unit} (80 % interval {interval.low_80:.0f} to"
        f" {interval.high_80:.0f}; 95 % {interval.low_95:.0f} to {interval.high_95:.0f})"
    )
