"""Where each page lives."""

from __future__ import annotations

from django.contrib.auth.views import LogoutView
from django.urls import path
from django.views.generic import RedirectView

from suffice.web.bench import views as bench
from suffice.web.caseload import views as caseload
from suffice.web.contact import views as contact
from suffice.web.entry import day, quick
from suffice.web.entry import views as entry
from suffice.web.entry.looks_wrong import looks_wrong
from suffice.web.family import opening
from suffice.web.family import views as family
from suffice.web.feed import views as feed
from suffice.web.library import views as library
from suffice.web.people import account, first_run, help_page
from suffice.web.people import views as session
from suffice.web.policy import views as policy
from suffice.web.transfer import views as transfer

urlpatterns = [
    path("", caseload.caseload, name="caseload"),
    path("families/new/", opening.new_family, name="family-new"),
    path("families/<uuid:family_id>/", family.family, name="family"),
    path("families/<uuid:family_id>/next/", caseload.next_family, name="family-next"),
    path("families/<uuid:family_id>/entries/", family.entries, name="family-entries"),
    path("families/<uuid:family_id>/feed/", feed.watch, name="feed-watch"),
    path("families/<uuid:family_id>/feed/reading/", feed.reading, name="feed-reading"),
    path("families/<uuid:family_id>/feed/<uuid:entry_id>/", feed.feed, name="feed"),
    path("families/<uuid:family_id>/looks-wrong/", looks_wrong, name="looks-wrong"),
    path("families/<uuid:family_id>/contact/", contact.contact, name="contact"),
    path("families/<uuid:family_id>/contact/problem/", contact.decided, name="contact-problem"),
    path("families/<uuid:family_id>/contact/<slug:key>/", contact.part, name="contact-part"),
    path(
        "families/<uuid:family_id>/contact/<slug:key>/answer/",
        contact.answered,
        name="contact-answer",
    ),
    path(
        "families/<uuid:family_id>/contact/<slug:key>/expected/",
        contact.expected,
        name="contact-expected",
    ),
    path("families/<uuid:family_id>/quick/", quick.quick, name="quick"),
    path("families/<uuid:family_id>/undo/", quick.undo, name="undo"),
    path("families/<uuid:family_id>/enter/day/", day.day, name="entry-day"),
    path("families/<uuid:family_id>/enter/<slug:kind>/", entry.new_entry, name="entry-new"),
    path(
        "families/<uuid:family_id>/entries/<uuid:entry_id>/correct/",
        entry.correct,
        name="entry-correct",
    ),
    path(
        "families/<uuid:family_id>/entries/<uuid:entry_id>/withdraw/",
        entry.withdraw,
        name="entry-withdraw",
    ),
    path("families/<uuid:family_id>/export/", transfer.export, name="export"),
    path("import/", transfer.import_file, name="import"),
    path("import/<uuid:name>/family/", transfer.import_family_file, name="import-family"),
    path("import/<uuid:name>/table/", transfer.import_table, name="import-table"),
    path("import/<uuid:name>/cancel/", transfer.cancel_import, name="import-cancel"),
    path("import/<uuid:name>/", transfer.import_progress, name="import-progress"),
    path("bench/", bench.bench, name="bench"),
    path("library/", library.library, name="library"),
    path("shortcuts/", caseload.shortcuts, name="shortcuts"),
    path("policy/", policy.policy, name="policy"),
    path("users/", session.people, name="people"),
    path("sign-in/", session.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("first-user/", session.first_user, name="first-user"),
    path("account/", account.account, name="account"),
    path("account/passphrase/", account.PassphraseChange.as_view(), name="passphrase"),
    path("set-up/", first_run.first_run, name="first-run"),
    path("help/", help_page.help_page, name="help"),
    path("favicon.ico", RedirectView.as_view(url="/static/suffice/icon.svg", permanent=True)),
]

handler400 = "suffice.web.site.fault.bad_request"
handler403 = "suffice.web.site.fault.not_allowed"
handler404 = "suffice.web.site.fault.not_found"
handler500 = "suffice.web.site.fault.failed"
