"""The Bench: the same calculations without a record, for a question in the hallway."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from suffice.assess.assessment import assess
from suffice.care.family.asking import Answer
from suffice.care.family.plausible import checker
from suffice.web.bench.forms import BenchForm
from suffice.web.family.page import family_page
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
    return page(request, "bench/bench.html", "bench", **context)
