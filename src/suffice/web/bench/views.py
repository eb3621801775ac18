"""The Bench: the same calculations without a record, for a question in the hallway."""

from __future__ import annotations

from base64 import b64encode
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from suffice.assess.assessment import assess
from suffice.care.family.asking import Answer
from suffice.care.family.plausible import checker
from suffice.documents.chart.palette import PALETTES
from suffice.documents.chart.svg import image
from suffice.documents.chart.weight_chart import WeightChart, weight_chart_spec
from suffice.web.bench.forms import BenchForm
from suffice.web.family.page import family_page
from suffice.web.family.views import CHART_WIDTH_PX, NARROW_CHART_PX
from suffice.web.family.weight_chart import weight_chart_of
from suffice.web.shown.page import Request, page, wording_of


@require_http_methods(["GET", "POST"])
def bench(request: Request) -> HttpResponse:
    """Ask; nothing is stored, and nothing stands in the address."""
    clinic = request.clinic
    sent = request.POST if request.method == "POST" else None
    form = BenchForm(sent, policy=clinic.policy, content=clinic.content)
    context: dict[str, Any] = {"form": form, "zone": clinic.policy.zone}
    if sent is not None and form.is_valid():
        now, wording = timezone.now(), wording_of(request)
        record = form.record(now)
        form.refuse_entries(list(checker(clinic.content)(record)))
        if not form.errors:
            assessed = assess(record, now, clinic.content, clinic.policy)
            answer = Answer(record=record, assessment=assessed)
            shown = family_page(answer, clinic.content, wording)
            context |= {"infant": shown.infants[0], "reds": shown.reds, "looks": shown.looks}
            if assessed.infants[0].weights:
                chart = weight_chart_of(assessed.infants[0], clinic.content, wording)
                context["charts"] = _images(chart)
    return page(request, "bench/bench.html", "bench", **context)


def _images(chart: WeightChart) -> dict[str, str]:
    """The chart for each theme and width within the page: there is no address to fetch it from."""
    return {
        f"{theme}_{name}": _within_page(
            image(weight_chart_spec(chart, PALETTES[theme], width_px=width))
        )
        for theme in ("light", "dark")
        for name, width in (("wide", CHART_WIDTH_PX), ("narrow", NARROW_CHART_PX))
    }


def _within_page(svg: str) -> str:
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"
