"""Choosing a passphrase by a one-time link: after an invitation, or after a reset."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from suffice.care.clinic.accounts import choose_passphrase, link_is_of
from suffice.errors import InputError
from suffice.web.fields.spoken import words_of
from suffice.web.people.passphrase import TwiceForm
from suffice.web.shown.page import page


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def choose(request: HttpRequest, token: str) -> HttpResponse:
    """Choose a passphrase; a link that cannot be used says so and nothing else."""
    now = timezone.now()
    try:
        name = link_is_of(token, now=now)
    except InputError as refusal:
        return page(request, "people/no_link.html", problems=refusal.problems, status=404)
    form = TwiceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            choose_passphrase(token, form.cleaned_data["passphrase"], now=now)
        except InputError as refusal:
            for problem in refusal.problems:
                place = str(problem.where)
                form.add_error(place if place in form.fields else None, words_of(problem))
        else:
            messages.success(request, _("Your passphrase is set. Sign in with it."))
            return redirect("sign-in")
    return page(request, "people/choose.html", form=form, name=name)
