"""Entering a fact, correcting one, withdrawing one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from suffice.care.contact.ending import end
from suffice.care.family.asking import open_flags
from suffice.care.family.recording import correct_entry, record_entry, withdraw_entry
from suffice.clinical.entry import Contact, Entry, Record, kind_of
from suffice.clinical.entry.field import OfFlag, fields_of
from suffice.errors import InputError
from suffice.language.terms import terms_of
from suffice.web.access import Act, family_of
from suffice.web.entry.confirmation import say_saved
from suffice.web.entry.forms import BY_ITS_PAGE, FORMS, EntryForm, OpenFlag
from suffice.web.entry.going import go, go_back
from suffice.web.fields.sent import infant_sent
from suffice.web.fields.spoken import SpokenForm, words_of
from suffice.web.shown.fact import describe, kind_word, writer
from suffice.web.shown.page import Request, page, wording_of
from suffice.web.shown.people import names_of, to_choose
from suffice.web.shown.telephone import telephone_of
from suffice.web.shown.wording import in_words, of_content

DEVICES_OFFERED = 12
LONGEST_CHOSEN = 80
"""Characters of an answer that an address may bring along."""
HANDOVER = "handover"
"""The kind of entry beside whose form the family's number stands: who takes over may ask for it."""
SESSION_USED = "used"
WEIGHED = frozenset({"weight", "test weight"})
REMEMBERED = ("device", "clothing")
"""Fields that are filled in as at the last entry of the kind."""


@require_http_methods(["GET", "POST"])
def new_entry(request: Request, family_id: UUID, kind: str) -> HttpResponse:
    """Enter a fact of one kind about a family."""
    if kind not in FORMS or kind in BY_ITS_PAGE:
        raise Http404
    record = family_of(request, family_id, Act.WRITE)
    form = _form(request, FORMS[kind], record)
    if request.method == "POST" and form.is_valid():

        def store(entry: Entry, *, confirmed: bool) -> Entry:
            if isinstance(entry.fact, Contact) and entry.fact.contact_id is not None:
                return end(record, entry, now=entry.entered_at, confirmed=confirmed)
            record_entry(family_id, entry, now=entry.entered_at, confirmed=confirmed)
            return entry

        if _stored(request, form, store, family_id):
            _remember(request, form)
            if "again" in request.POST and not form.declared.is_once:
                return go(request, "entry-new", family_id, kind)
            return go_back(request, family_id)
    ends_contact = kind == "contact" and "contact_id" in request.GET
    title = _("End the contact") if ends_contact else form.title
    return _shown(request, form, record, title=title)


@require_http_methods(["GET", "POST"])
def correct(request: Request, family_id: UUID, entry_id: UUID) -> HttpResponse:
    """Put a corrected entry in the place of a wrong one."""
    record = family_of(request, family_id, Act.WRITE)
    wrong = _correctable(record, entry_id, is_sent=request.method == "POST")
    form_class = FORMS[kind_of(wrong.fact).replace(" ", "-")]
    form = _form(request, form_class, record, wrong)
    if request.method == "POST" and form.is_valid():

        def store(entry: Entry, *, confirmed: bool) -> Entry:
            correct_entry(family_id, entry_id, entry, now=entry.entered_at, confirmed=confirmed)
            return entry

        if _stored(request, form, store, family_id):
            return go(request, "family", family_id)
    title = _("Correct: %(kind)s") % {"kind": kind_word(wrong.fact)}
    return _shown(request, form, record, title=title, wrong=wrong)


class WithdrawForm(SpokenForm):
    """Why an entry no longer counts."""

    withdrawal_id = forms.UUIDField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label=gettext_lazy("Why is it withdrawn?"),
        max_length=300,
        help_text=gettext_lazy("For example: entered for the wrong infant"),
    )


@require_http_methods(["GET", "POST"])
def withdraw(request: Request, family_id: UUID, entry_id: UUID) -> HttpResponse:
    """Take an entry that was made in error out of every computation."""
    record = family_of(request, family_id, Act.WRITE)
    wrong = next((entry for entry in record.entries if entry.id == entry_id), None)
    if wrong is None or wrong.fact.declared.is_final:
        raise Http404
    form = WithdrawForm(request.POST or None, initial={"withdrawal_id": uuid4()})
    if request.method == "POST" and form.is_valid():
        try:
            withdraw_entry(
                family_id,
                entry_id,
                withdrawal_id=form.cleaned_data["withdrawal_id"],
                reason=form.cleaned_data["reason"],
                now=timezone.now(),
                actor=request.user.get_username(),
            )
        except InputError as refusal:
            for problem in refusal.problems:
                form.add_error("reason" if problem.where == "reason" else None, words_of(problem))
        else:
            messages.success(request, _("Withdrawn; it stays on the record, struck through."))
            return go(request, "family", family_id)
    return page(
        request,
        "entry/withdraw.html",
        form=form,
        family_id=family_id,
        wrong=wrong,
        what=f"{kind_word(wrong.fact)}: {describe(wrong.fact, wording_of(request))}",
    )


def _form(
    request: Request, form_class: type[EntryForm], record: Record, wrong: Entry | None = None
) -> EntryForm:
    """A form for an entry, filled with what is likely, or with the entry that is corrected."""
    wording = wording_of(request)
    clinic = request.clinic
    now = timezone.now()
    names = names_of(record, now, wording.policy)
    # What was seen of an infant before it died can be entered from an address that names it.
    named = infant_sent(request, record)
    offered = record.infants if wrong else to_choose(record, now, clinic.policy, named)
    infants = [(one.id, names[one.id]) for one in sorted(offered, key=lambda i: i.position)]
    initial: dict[str, Any] = {"when": wording.field(now.replace(second=0, microsecond=0))}
    if wrong is not None:
        infants = [(key, name) for key, name in infants if key == wrong.infant_id]
        initial = {
            **form_class.written(wrong.fact, writer(wording)),
            "when": wording.field(wrong.true_at),
            "basis": wrong.basis.value,
            "device": wrong.device or "",
        }
    else:
        initial |= _used(request, form_class)
        # A page may ask with an answer chosen already: a sign that was tapped, the flag it is about.
        chosen = {name: value for name, value in request.GET.items() if name != "when"}
        initial |= {name: value for name, value in chosen.items() if len(value) <= LONGEST_CHOSEN}
    return form_class(
        request.POST if request.method == "POST" else None,
        policy=clinic.policy,
        content=clinic.content,
        infants=infants,
        corrects=None if wrong is None else wrong.fact,
        devices=_devices(record, clinic.policy.scales),
        flags=_flags(request, form_class, record, names),
        initial=initial,
    )


def _flags(
    request: Request,
    form_class: type[EntryForm],
    record: Record,
    names: Mapping[UUID | None, str],
) -> list[OpenFlag]:
    """The flags that are open now, where the form asks for one."""
    if not any(isinstance(one, OfFlag) for one in fields_of(form_class.made).values()):
        return []
    found = open_flags(record, now=timezone.now(), rules=request.clinic)
    return [
        OpenFlag(one.infant_id, one.code, f"{names[one.infant_id]}: {in_words(one.name)}")
        if one.name
        else OpenFlag(one.infant_id, one.code, f"{names[one.infant_id]}: {one.code}")
        for one in found
    ]


def _devices(record: Record, scales: Any) -> list[str]:
    """Scales and devices that are known, those of the clinic first, then the latest of the family."""
    known = [scale.name for scale in scales]
    used = [entry.device for entry in reversed(record.entries) if entry.device]
    return list(dict.fromkeys([*known, *used]))[:DEVICES_OFFERED]


def _stored(
    request: Request, form: EntryForm, store: Callable[..., Entry], family_id: UUID
) -> bool:
    """Store what the form holds, and say what stands; False with problems and questions in the form when it cannot be.

    Whoever has answered every question is taken at their word; a question that was never asked is
    not answered by a box that was ticked for another one.
    """
    entry = form.entry(now=timezone.now(), actor=request.user.get_username())
    try:
        stored = store(entry, confirmed=False)
    except InputError as refusal:
        form.refuse(refusal)
        if form.errors:
            return False
        stored = store(entry, confirmed=True)
    say_saved(request, family_id, [stored])
    return True


def _remember(request: Request, form: EntryForm) -> None:
    """Offer the same scale and clothing at the next entry of this kind, until this person signs out."""
    for name in REMEMBERED:
        value = form.cleaned_data.get(name)
        if value:
            kept: Mapping[str, Mapping[str, str]] = request.session.get(SESSION_USED, {})
            used = {**kept.get(form.kind, {}), name: value}
            request.session[SESSION_USED] = {**kept, form.kind: used}


def _used(request: Request, form_class: type[EntryForm]) -> dict[str, str]:
    """The scale and the clothing of the last entry of this kind; else the clinic's only scale."""
    kind = kind_of(form_class.made)
    used: dict[str, str] = dict(request.session.get(SESSION_USED, {}).get(kind, {}))
    scales = request.clinic.policy.scales
    if kind in WEIGHED and len(scales) == 1:
        used.setdefault("device", scales[0].name)
    return used


def _correctable(record: Record, entry_id: UUID, *, is_sent: bool) -> Entry:
    """An entry that has a form and that nothing replaces.

    What was typed already is kept, also when a colleague was faster: the form says so then.
    """
    replaced = {entry.replaces for entry in record.entries}
    found = next((entry for entry in record.entries if entry.id == entry_id), None)
    is_gone = entry_id in replaced and not is_sent
    is_fixed = found is not None and (
        found.fact.declared.is_final or kind_of(found.fact) == "withdrawal"
    )
    if found is None or is_gone or is_fixed:
        raise Http404
    return found


def _shown(
    request: Request, form: EntryForm, record: Record, *, title: Any, wrong: Entry | None = None
) -> HttpResponse:
    wording = wording_of(request)
    names = names_of(record, timezone.now(), wording.policy)
    whose, alive = names[None], to_choose(record, timezone.now(), wording.policy)
    if form.declared.about == "infant" and len(alive) == 1:
        whose = names[alive[0].id]
    if wrong is not None:
        whose = names[wrong.infant_id]
    return page(
        request,
        "entry/entry.html",
        form=form,
        title=title,
        family_id=record.family_id,
        family_name=names[None],
        whose=whose,
        zone=wording.policy.zone,
        telephone=telephone_of(record, timezone.now()) if form.kind == HANDOVER else None,
        until_help=_until_help(request.GET.get("sign", "")),
        wrong=describe(wrong.fact, wording) if wrong else "",
        may_go_on=wrong is None and not form.declared.is_once,
    )


def _until_help(sign: str) -> str:
    """Whom to phone and what to do until help comes, where the sign that was tapped is an emergency."""
    term = terms_of("signs").get(sign)
    each = (term.get_help, term.until_help) if term else ()
    return " ".join(of_content(line) for line in each if line)
