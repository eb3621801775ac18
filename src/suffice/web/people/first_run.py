"""The first questions of a fresh record: language, units, dates, time zone, words, and who you are."""

from __future__ import annotations

from typing import Any, Final
from uuid import uuid4
from zoneinfo import available_timezones

import msgspec
from django import forms
from django.conf import settings as site
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import get_language, gettext_lazy, override
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.clinic import change_policy
from suffice.care.clinic.people import change_full_name, full_names
from suffice.errors import InputError
from suffice.knowledge.policy import Policy
from suffice.web.access import Act, need
from suffice.web.fields.choices import date_orders, radios
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.people.account import full_name_field
from suffice.web.shown.page import Request, page

CONVENTIONS: Final[dict[str, dict[str, str]]] = {
    "metric": {"weight_unit": "g", "volume_unit": "mL", "temperature_unit": "C"},
    "us": {"weight_unit": "lb oz", "volume_unit": "fl oz", "temperature_unit": "F"},
}
"""How a country writes amounts; each unit can be changed by itself on the policy page."""


ASKED: Final = ("clinic_name", "zone", "language", "parent_word", "date_order")
"""Settings that are asked as they are kept."""


class FirstRunForm(SpokenForm):
    """What a fresh record must know before its first family; all of it can be changed later."""

    version_id = forms.UUIDField(widget=forms.HiddenInput)
    full_name = full_name_field()
    clinic_name = forms.CharField(
        label=gettext_lazy("Name of the clinic"),
        max_length=80,
        help_text=gettext_lazy("Needed: it is printed on papers. Your own name if you work alone"),
    )
    language = radios(
        [("en", "English"), ("es", "Español")], gettext_lazy("Language"), required=True
    )
    conventions = radios(
        [
            ("metric", gettext_lazy("grams, millilitres, °C")),
            ("us", gettext_lazy("pounds and ounces, US fluid ounces, °F")),
        ],
        gettext_lazy("Amounts are shown in"),
        required=True,
    )
    date_order = radios(date_orders(), gettext_lazy("Dates are shown with"), required=True)
    zone = forms.CharField(
        label=gettext_lazy("Time zone"),
        max_length=64,
        help_text=gettext_lazy(
            "Every time on the record is shown in it, for example Europe/Madrid"
        ),
        widget=forms.TextInput(
            {"list": "zones", "autocomplete": "off", "spellcheck": "false", "data-own-zone": ""}
        ),
    )
    parent_word = radios(
        [("mother", gettext_lazy("The mother")), ("parent", gettext_lazy("The parent"))],
        gettext_lazy("Word for the parent"),
        required=True,
    )

    def save(self, request: Request) -> bool:
        """Keep the policy and the name; False with the problems at their fields."""
        sent = self.cleaned_data
        chosen = {name: sent[name] for name in ASKED}
        kept = msgspec.to_builtins(request.clinic.policy)
        actor = request.user.get_username()
        try:
            change_full_name(actor, sent["full_name"])
            change_policy(
                sent["version_id"],
                kept | chosen | CONVENTIONS[sent["conventions"]],
                now=timezone.now(),
                actor=actor,
            )
        except InputError as refusal:
            for problem in refusal.problems:
                place = str(problem.where)
                self.add_error(place if place in self.fields else None, words_of(problem))
            return False
        return True


@require_http_methods(["GET", "POST"])
def first_run(request: Request) -> HttpResponse:
    """Ask; once there is a policy the policy page answers instead."""
    need(request, Act.POLICY)
    if request.clinic.policy_version > 0 and request.method == "GET":
        return redirect("policy")
    form = FirstRunForm(request.POST or None, initial=_initial(request))
    if request.method == "POST" and form.is_valid() and form.save(request):
        with override(form.cleaned_data["language"]):
            messages.success(
                request,
                _("Set up. Times are shown in %(zone)s.") % {"zone": form.cleaned_data["zone"]},
            )
        return redirect("caseload")
    zones = sorted(available_timezones()) if not form.is_bound else []
    return page(request, "people/first_run.html", form=form, zones=zones)


def _initial(request: Request) -> dict[str, Any]:
    policy: Policy = request.clinic.policy
    spoken = get_language() or site.LANGUAGE_CODE
    return {
        "version_id": uuid4(),
        "full_name": full_names().get(request.user.get_username(), ""),
        "language": "es" if spoken.startswith("es") else policy.language,
        "conventions": "us" if policy.weight_unit == "lb oz" else "metric",
        "parent_word": policy.parent_word,
        "date_order": policy.date_order,
        "zone": policy.zone,
    }
