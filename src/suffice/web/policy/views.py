"""The clinic's policy: read by everyone, changed by those who may."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from suffice.care.caseload.effect import changes_judgement, effect_of
from suffice.care.clinic.clinic import change_policy, is_in_use, policy_history
from suffice.errors import SufficeError
from suffice.knowledge.policy import policy_from_settings
from suffice.knowledge.store import load
from suffice.web.access import Act, need
from suffice.web.policy.effect import effect_words
from suffice.web.policy.forms import PolicyForm
from suffice.web.shown.page import Request, page


@require_http_methods(["GET", "POST"])
def policy(request: Request) -> HttpResponse:
    """Show the policy; change it by appending a version."""
    clinic = request.clinic
    may_change = request.access.changes_policy
    if request.method == "POST":
        need(request, Act.POLICY)
    sent = request.POST if request.method == "POST" else None
    form = PolicyForm(sent, policy=clinic.policy, content=clinic.content)
    if sent is not None and form.is_valid():
        saved = _saved(request, form)
        if saved:
            messages.success(request, saved)
            return redirect("policy")
    return page(
        request,
        "policy/policy.html",
        "policy",
        form=form,
        may_change=may_change,
        history=policy_history(),
    )


def _saved(request: Request, form: PolicyForm) -> str:
    """Append the version and say so; '' with problems and questions in the form when it cannot be.

    Where everything is as it was nothing is stored.
    """
    version_id, now = form.cleaned_data["version_id"], timezone.now()
    actor = request.user.get_username()
    try:
        policy_from_settings(form.settings(), load())
    except SufficeError as refusal:
        for problem in refusal.problems:
            form.show(problem, str(problem.where))
        if form.errors:
            return ""
    if is_in_use(version_id, form.settings()):
        return _("Nothing was changed: the policy was like this already.")
    if not _effect_is_seen(form, now):
        return ""
    change_policy(version_id, form.settings(), now=now, actor=actor, confirmed=True)
    return _("The policy is changed; every family is assessed again.")


def _effect_is_seen(form: PolicyForm, now: datetime) -> bool:
    """Whether nothing would move on the caseload, or the reader has seen what would."""
    settings = form.settings()
    if not changes_judgement(settings):
        return True
    effect = effect_of(settings, now=now)
    if effect.moves:
        form.ask_whether(effect_words(effect))
    return not form.errors
