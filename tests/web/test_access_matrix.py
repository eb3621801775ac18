"""Every address x role x own or other team x method: who gets what.

The addresses are those of the program itself, and what each needs stands in `tools/attack/needs.py`, by
which `make attack` goes too. **A new address fails here until it says there what it needs.**
"""

from __future__ import annotations

import ast
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from uuid import UUID, uuid4

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, reverse
from msgspec.structs import replace

from arch.source_tree import modules
from members import a_member
from suffice.care import uploads
from suffice.care.clinic.roles import ACTS, Act, Duty, Role
from suffice.clinical.entry import Record
from suffice.record import teams
from suffice.web.site.urls import urlpatterns
from tool_modules import tool_module
from web.access_story import FEED, PHOTOGRAPH, put_everything_on_the_record
from web.story import FAMILY, NAME, an_id

if TYPE_CHECKING:
    from pytest_django.fixtures import SettingsWrapper

pytestmark = pytest.mark.both_engines

needs = tool_module("attack.needs")
NEEDS: Final[dict[str, tuple[Any, Any]]] = needs.NEEDS
NOBODY: Final[str] = needs.NOBODY
PEOPLE: Final[tuple[Any, ...]] = needs.PEOPLE

VALUES: Final[dict[str, dict[str, object]]] = {
    **needs.WORDS,
    "feed": {"entry_id": FEED},
    "photograph": {"entry_id": PHOTOGRAPH},
    "photograph-picture": {"entry_id": PHOTOGRAPH},
    "entry-correct": {"entry_id": an_id("weight 1 3")},
    "entry-withdraw": {"entry_id": an_id("weight 1 3")},
}
"""Name of an address to what stands in it, the family and the file of an import apart."""

PATTERNS: Final = {one.name: one for one in urlpatterns if isinstance(one, URLPattern) and one.name}
HOW: Final = (
    "say in NEEDS of tools/attack/needs.py what its GET and its POST need; see the top of that file for"
    " how its view asks"
)
OTHER_TEAM: Final = UUID("11111111-0000-4000-8000-000000000000")
PARTS: Final = 3
"""So many tests ask for all of them: one of 2,400 requests is all that a core has left at the end of a run."""


def test_every_address_says_what_it_needs() -> None:
    missing = sorted(set(PATTERNS) - set(NEEDS))
    assert missing == [], HOW
    assert sorted(set(NEEDS) - set(PATTERNS)) == [], "no such address any more"
    unnamed = [str(one.pattern) for one in urlpatterns if not getattr(one, "name", None)]
    assert unnamed == ["favicon.ico"], "give it a name, and say what it needs"


def test_every_part_of_an_address_has_a_value() -> None:
    for name, pattern in PATTERNS.items():
        asked = set(pattern.pattern.converters) - {"family_id", "name"}
        assert asked == set(VALUES.get(name, {})), f"{name}: a value for each in VALUES"


def test_every_act_with_a_family_is_refused_to_duties() -> None:
    with_a_family = {Act.READ, Act.WRITE, Act.EXPORT, Act.PASS_ON, Act.OPEN, Act.ERASE}
    for duty in Duty:
        assert not ACTS[duty] & with_a_family


def test_pages_load_a_family_through_the_one_loader() -> None:
    """What reads a record without asking is imported by `web/access.py` alone."""
    reading = {"record_of", "read", "read_many", "repository"}
    found = [
        f"{module.path}: {alias.name}"
        for module in modules("src/suffice/web")
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ImportFrom) and module.path != "src/suffice/web/access.py"
        for alias in node.names
        if alias.name in reading and str(node.module).startswith(("suffice.care", "suffice.record"))
    ]
    assert found == [], "family_of(request, family_id, Act.READ) asks and loads in one call"


def test_a_view_that_forgets_to_ask_answers_nothing(
    clinic: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in("somebody-else", Role.LEAD, "own", None)
    monkeypatch.setattr("suffice.web.family.views.allowed", lambda _request, key, _act: key)
    client.raise_request_exception = False
    answer = client.get(f"/families/{FAMILY}/")
    assert answer.status_code == 500
    assert NAME not in said_in(answer)


@pytest.fixture
def clinic(db: None, tmp_path: Path, settings: SettingsWrapper) -> None:
    """Two teams; the family is of the first and has one of everything."""
    settings.HOME = tmp_path
    now = datetime.now(UTC)
    teams.first_team(now=now)
    teams.add_team(OTHER_TEAM, "Other", now=now)
    put_everything_on_the_record()
    a_member("somebody")


def signed_in(name: str, role: Role | None, team: str, duty: Duty | None) -> Client:
    user = a_member(
        name.replace(" ", "-"),
        role,
        team=OTHER_TEAM if team == "other" else None,
        is_administrator=duty is Duty.ADMINISTRATOR,
        is_auditor=duty is Duty.AUDITOR,
    )
    client = Client()
    client.force_login(user)
    return client


def address(name: str, client: Client | None = None) -> str:
    """The address, of the family on the record; a file of an import is one that this browser sent."""
    values: dict[str, Any] = dict(VALUES.get(name, {}))
    asked = PATTERNS[name].pattern.converters
    if "family_id" in asked:
        values["family_id"] = FAMILY
    if "name" in asked:
        values["name"] = uuid4()
        if client is not None:
            values["name"] = uploads.keep(b"infant,date,weight\n1,2026-01-01,3000\n", by=1)
            if name == "import-progress":
                from suffice.care import jobs  # noqa: PLC0415 -- read with the record set up

                done = jobs.Outcome(
                    counts=dict.fromkeys(("families", "opened", "entries", "repeated", "rows"), 1)
                )
                jobs.note_done(jobs.Kind.IMPORT, done, by="x", job_id=values["name"])
            session = client.session
            session["files"] = {str(values["name"]): {"family": "", "source": "x"}}
            session.save()
    return reverse(name, kwargs=values)


@pytest.mark.parametrize("start", range(PARTS))
def test_who_may_do_what(clinic: None, start: int) -> None:
    """One record for all of them: what one POST stores is taken back before the next."""
    wrong = []
    for person in PEOPLE[start::PARTS]:
        client = signed_in(*person[:4])
        for name, needed in NEEDS.items():
            about_family = "family_id" in PATTERNS[name].pattern.converters
            for method, need in zip(("get", "post"), needed, strict=True):
                if name in {"sign-out", "lock"}:
                    continue  # it ends what the next address needs; test_session.py has it
                with transaction.atomic():
                    answer = getattr(client, method)(address(name, client))
                    transaction.set_rollback(True)
                due = needs.due(need, person, about_family=about_family)
                taken = {200, 204, 302, 400} | ({404} if need == NOBODY else set())
                is_right = (
                    answer.status_code in taken if due == "yes" else str(answer.status_code) == due
                )
                if not is_right or (due != "yes" and NAME in said_in(answer)):
                    wrong.append(f"{person[0]}: {method} {name}: {due}, not {answer.status_code}")
    assert wrong == []


def with_entries() -> list[tuple[str, tuple[Any, Any]]]:
    """The addresses that name an entry beside its family."""
    found = [
        (name, needed)
        for name, needed in NEEDS.items()
        if {"family_id", "entry_id"} <= set(PATTERNS[name].pattern.converters)
    ]
    assert {"feed", "photograph", "photograph-picture", "entry-correct", "entry-withdraw"} == {
        name for name, _needed in found
    }
    return found


def test_an_entry_of_another_family_is_not_there_under_the_address_of_ones_own(
    clinic: None,
) -> None:
    """Who may do everything with a family of one team reaches nothing of another's by its number."""
    from suffice.care.family.recording import open_family  # noqa: PLC0415
    from suffice.record import repository  # noqa: PLC0415
    from web.story import twins  # noqa: PLC0415

    night, own, now = uuid4(), uuid4(), datetime.now(UTC)
    teams.add_team(night, "Night ward", now=now)
    theirs, infants = repository.read(FAMILY), {}
    for one in twins(now).infants:
        infants[one.id] = replace(one, id=uuid4())
    opened = Record(family_id=own, infants=tuple(infants.values()), entries=())
    open_family(opened, now=now, actor="nina", confirmed=True, team_id=night)
    client = Client()
    client.force_login(a_member("nina", "lead", team=night))
    assert client.get(f"/families/{own}/").status_code == 200
    wrong = []
    for name, needed in with_entries():
        for entry in theirs.entries:
            at = reverse(name, args=[own, entry.id])
            for method, need in zip(("get", "post"), needed, strict=True):
                answer = getattr(client, method)(at)
                if need is not None and answer.status_code not in {400, 404}:
                    wrong.append(f"{method} {name} {entry.id}: {answer.status_code}")
                assert NAME not in said_in(answer)
    # By fields of a form: what is taken back, amended, decided, is looked for in the family of the address.
    number = str(theirs.entries[-1].id)
    for at, sent in (
        ("undo/", {"entry": number}),
        ("papers/amend/", {"note": number, "key": str(uuid4()), "text": "x"}),
        (f"papers/?kind=signed&note={number}", {}),
        (f"papers/?kind=plan&given={number}", {}),
        (f"milk/?infant={theirs.infants[0].id}", {}),
        (f"plan/?infant={theirs.infants[0].id}", {}),
        (f"photograph/?infant={theirs.infants[0].id}", {}),
    ):
        answer = (
            client.post(f"/families/{own}/{at}", sent)
            if sent
            else client.get(f"/families/{own}/{at}")
        )
        if answer.status_code not in {400, 404, 302}:
            wrong.append(f"{at}: {answer.status_code}")
        assert NAME not in said_in(answer)
    assert wrong == []
    assert repository.read(FAMILY) == theirs


def said_in(answer: HttpResponse) -> str:
    return answer.content.decode(errors="replace")


def test_who_has_not_signed_in_is_led_to_sign_in_everywhere(clinic: None) -> None:
    client = Client()
    wrong = []
    for name, needed in NEEDS.items():
        for method in ("get", "post"):
            answer = getattr(client, method)(address(name))
            is_led = answer.status_code == 302 and answer["Location"].startswith("/sign-in/")
            # Once there is a user, these lead there as well, and what is no passkey does.
            leads = {"first-user", "sign-in-code"} | (
                {"sign-in-passkey"} if method == "post" else set()
            )
            is_open = NOBODY in needed and name not in leads
            if is_open == is_led:
                wrong.append(f"{method} {name}: {answer.status_code}")
            assert NAME not in said_in(answer)
    assert wrong == []
