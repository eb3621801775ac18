"""Where each page lives."""

from __future__ import annotations

from django.urls import path
from django.views.generic import RedirectView

from suffice.web.bench import views as bench
from suffice.web.caseload import views as caseload
from suffice.web.contact import views as contact
from suffice.web.contact.scores import score
from suffice.web.entry import day, quick
from suffice.web.entry import views as entry
from suffice.web.entry.looks_wrong import looks_wrong
from suffice.web.erasure import views as erasure
from suffice.web.family import opening
from suffice.web.family import views as family
from suffice.web.feed import views as feed
from suffice.web.home_log import views as home_log
from suffice.web.library import views as library
from suffice.web.milk import views as milk
from suffice.web.papers import acts as paper_acts
from suffice.web.papers import views as papers
from suffice.web.people import (
    account,
    accounts,
    code,
    first_run,
    help_page,
    idle,
    leaving,
    link,
    outside,
    passkeys,
)
from suffice.web.people import views as session
from suffice.web.photograph import views as photographs
from suffice.web.plan import views as plan
from suffice.web.plan.day import plan_day
from suffice.web.plan.preview import plan_preview
from suffice.web.policy import views as policy
from suffice.web.state import views as state
from suffice.web.teams import emergency, passing
from suffice.web.teams import views as teams
from suffice.web.trail import views as trail
from suffice.web.transfer import views as transfer

urlpatterns = [
    path("", caseload.caseload, name="caseload"),
    path("shift/", caseload.shift, name="shift"),
    path("families/new/", opening.new_family, name="family-new"),
    path("families/<uuid:family_id>/", family.family, name="family"),
    path("families/<uuid:family_id>/next/", caseload.next_family, name="family-next"),
    path("families/<uuid:family_id>/entries/", family.entries, name="family-entries"),
    path("families/<uuid:family_id>/feed/", feed.watch, name="feed-watch"),
    path("families/<uuid:family_id>/feed/reading/", feed.reading, name="feed-reading"),
    path("families/<uuid:family_id>/feed/<uuid:entry_id>/", feed.feed, name="feed"),
    path("families/<uuid:family_id>/plan/", plan.plan, name="plan"),
    path("families/<uuid:family_id>/plan/day/", plan_day, name="plan-day"),
    path("families/<uuid:family_id>/plan/preview/", plan_preview, name="plan-preview"),
    path(
        "families/<uuid:family_id>/photograph/", photographs.new_photograph, name="photograph-new"
    ),
    path(
        "families/<uuid:family_id>/photograph/<uuid:entry_id>/",
        photographs.photograph,
        name="photograph",
    ),
    path(
        "families/<uuid:family_id>/photograph/<uuid:entry_id>/picture/",
        photographs.picture,
        name="photograph-picture",
    ),
    path("families/<uuid:family_id>/looks-wrong/", looks_wrong, name="looks-wrong"),
    path("families/<uuid:family_id>/contact/", contact.contact, name="contact"),
    path("families/<uuid:family_id>/contact/problem/", contact.decided, name="contact-problem"),
    path("families/<uuid:family_id>/contact/score/<slug:which>/", score, name="contact-score"),
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
    path("families/<uuid:family_id>/milk/", milk.milk, name="milk"),
    path("families/<uuid:family_id>/milk/labels/", milk.labels, name="milk-labels"),
    path("families/<uuid:family_id>/log/", home_log.home_log, name="home-log"),
    path("families/<uuid:family_id>/papers/", papers.papers, name="papers"),
    path("families/<uuid:family_id>/papers/sign/", paper_acts.sign_note, name="note-sign"),
    path("families/<uuid:family_id>/papers/amend/", paper_acts.amend_note, name="note-amend"),
    path("families/<uuid:family_id>/papers/given/", paper_acts.give_paper, name="paper-given"),
    path("families/<uuid:family_id>/papers/<slug:kind>/", papers.paper, name="paper"),
    path("families/<uuid:family_id>/seen/", trail.seen, name="family-seen"),
    path("families/<uuid:family_id>/export/", transfer.export, name="export"),
    path("families/<uuid:family_id>/export/whole/", erasure.export_whole, name="export-whole"),
    path("families/<uuid:family_id>/erase/", erasure.ask, name="erase"),
    path("erasures/", erasure.erasures, name="erasures"),
    path("import/", transfer.import_file, name="import"),
    path("import/<uuid:name>/family/", transfer.import_family_file, name="import-family"),
    path("import/<uuid:name>/table/", transfer.import_table, name="import-table"),
    path("import/<uuid:name>/reading/", transfer.import_reading, name="import-reading"),
    path("import/<uuid:name>/cancel/", transfer.cancel_import, name="import-cancel"),
    path("import/<uuid:name>/", transfer.import_progress, name="import-progress"),
    path("bench/", bench.bench, name="bench"),
    path("library/", library.library, name="library"),
    path("library/class/", library.class_kit, name="class-kit"),
    path("library/class/<slug:which>/", library.class_file, name="class-file"),
    path("shortcuts/", caseload.shortcuts, name="shortcuts"),
    path("policy/", policy.policy, name="policy"),
    path("trail/", trail.trail, name="trail"),
    path("trail/export/", trail.export, name="trail-export"),
    path("users/", accounts.list_people, name="people"),
    path("users/<str:user>/", accounts.person, name="person"),
    path("welcome/<str:token>/", link.choose, name="choose-passphrase"),
    path("state/", state.state, name="state"),
    path("teams/", teams.list_teams, name="teams"),
    path("families/<uuid:family_id>/pass-on/", passing.pass_one_on, name="pass-on"),
    path("pass-on/", passing.pass_list_on, name="pass-list-on"),
    path("emergency/", emergency.find, name="emergency"),
    path("emergency/opened/", emergency.opened, name="emergency-opened"),
    path("sign-in/", session.SignIn.as_view(), name="sign-in"),
    path("sign-in/outside/", outside.begin, name="sign-in-outside"),
    path("sign-in/outside/back/", outside.back, name="sign-in-outside-back"),
    path("sign-in/passkey/", passkeys.sign_in, name="sign-in-passkey"),
    path("account/passkeys/", passkeys.passkeys, name="passkeys"),
    path("sign-in/code/", code.code, name="sign-in-code"),
    path("lock/", idle.lock, name="lock"),
    path("awake/", idle.awake, name="awake"),
    path("sign-out/", leaving.SignOut.as_view(), name="sign-out"),
    path("first-user/", session.first_user, name="first-user"),
    path("account/", account.account, name="account"),
    path("account/codes/", code.set_up, name="factor"),
    path("account/passphrase/", account.PassphraseChange.as_view(), name="passphrase"),
    path("set-up/", first_run.first_run, name="first-run"),
    path("help/", help_page.help_page, name="help"),
    path("favicon.ico", RedirectView.as_view(url="/static/suffice/icon.svg", permanent=True)),
]

handler400 = "suffice.web.site.fault.bad_request"
handler403 = "suffice.web.site.fault.not_allowed"
handler404 = "suffice.web.site.fault.not_found"
handler500 = "suffice.web.site.fault.failed"
