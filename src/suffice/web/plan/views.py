"""Propose a plan, change its lines, keep it; a plan that is kept takes the place of the last."""

from __future__ import annotations

from uuid import UUID

import msgspec
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from suffice.assess.died import deaths_of
from suffice.care.clinic.people import full_names
from suffice.care.family.recording import record_entry
from suffice.clinical.entry import Record
from suffice.documents.day_clock import clock_of
from suffice.errors import InputError
from suffice.plan.comfort import family_steps
from suffice.plan.happened import since_plan
from suffice.plan.propose import propose
from suffice.web.access import Act, family_of
from suffice.web.entry.confirmation import name_of, say_saved
from suffice.web.entry.going import go_to
from suffice.web.family.reds import reds_of
from suffice.web.fields.sent import infant_asked
from suffice.web.plan.day import on_the_clock
from suffice.web.plan.dial import dial_shown
from suffice.web.plan.forms import AgreedForm, PlanForm, plan_form
from suffice.web.plan.known import known_now
from suffice.web.plan.page import calls_shown, is_newest, last_shown, lines_shown, move_shown
from suffice.web.shown.fact import writer
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of, to_choose
from suffice.web.shown.wording import in_words


@require_http_methods(["GET", "POST"])
def plan(request: Request, family_id: UUID) -> HttpResponse:
    """The proposal for one infant, each line with its working and its fields; what is sent is kept."""
    act = Act.WRITE if request.method == "POST" else Act.READ
    record = family_of(request, family_id, act)
    now, policy = timezone.now(), request.clinic.policy
    infant_id = infant_asked(request, record, to_choose(record, now, policy))
    if infant_id in deaths_of(record, now, policy):
        return _none_made(request, record, infant_id)
    if request.method == "POST":
        # What was proposed comes along as it was shown: it is not worked out again to keep a plan.
        sent = plan_form(request, {}, infant_id)
        if sent.is_valid() and _kept(request, sent, record):
            return go_to(request, f"{reverse('plan', args=[family_id])}?infant={infant_id}")
        return _shown(request, record, infant_id, sent)
    return _shown(request, record, infant_id)


def _none_made(request: Request, record: Record, infant_id: UUID) -> HttpResponse:
    """Why there is no plan of an infant that has died; the way to the others stays."""
    now, policy = timezone.now(), request.clinic.policy
    names = names_of(record, now, policy)
    return page(
        request,
        "plan/none.html",
        family_id=record.family_id,
        whose=names[infant_id],
        infant=infant_id,
        infants=[(one.id, names[one.id]) for one in to_choose(record, now, policy, infant_id)],
    )


def _shown(
    request: Request, record: Record, infant_id: UUID, sent: AgreedForm | None = None
) -> HttpResponse:
    """The page; `sent` is a form that could not be kept, shown with what is wrong."""
    known, family_id = known_now(request, record, infant_id), record.family_id
    now, answer, asked, visit = known.now, known.answer, known.asked, known.visit
    wording = msgspec.structs.replace(wording_of(request), now=now)
    visit_id = None if visit is None else visit.id
    proposal = propose(asked)
    at_breast = proposal.plan.at_breast not in {None, "not now"}
    steps = "\n".join(in_words(one) for one in family_steps(asked, at_breast=at_breast))
    proposed = msgspec.structs.replace(proposal.plan, contact_id=visit_id, each_feed=steps or None)
    form = sent or plan_form(request, PlanForm.filled(proposed, writer(wording)), infant_id)
    names, since = names_of(record, now, wording.policy), since_plan(asked)
    return page(
        request,
        "plan/plan.html",
        family_id=family_id,
        family={"id": family_id},
        whose=names[infant_id],
        infant=infant_id,
        infants=[(one.id, names[one.id]) for one in to_choose(record, now, wording.policy)],
        is_in_contact=visit is not None,
        reds=reds_of(answer.assessment, wording),
        form=form,
        goal=form["goal"],
        why=form["why"],
        lines=lines_shown(proposal, form, wording, asked.content),
        move=move_shown(proposal),
        tells_physician=proposal.tells_physician,
        calls=calls_shown(proposal),
        last=None if since is None else last_shown(since, wording, full_names()),
        is_just_kept=sent is None and since is not None and is_newest(since, record, now),
        clock=dial_shown(clock_of(asked.entries), "kept"),
    )


def _kept(request: Request, form: AgreedForm, record: Record) -> bool:
    """Keep the plan; False with problems and questions in the form when it cannot be."""
    now = timezone.now()
    entry = on_the_clock(request, form.entry_of(now=now, actor=request.user.get_username()), record)
    try:
        record_entry(record.family_id, entry, now=now)
    except InputError as refusal:
        form.refuse(refusal)
        if form.errors:
            return False
        record_entry(record.family_id, entry, now=now, confirmed=True)
    text = _("The plan of %(name)s is kept.") % {"name": name_of(request, record, entry.infant_id)}
    say_saved(request, record.family_id, [entry], sentence=text, can_undo=True)
    return True
