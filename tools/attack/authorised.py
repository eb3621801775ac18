"""Every address in every method, asked over HTTP by somebody of each role, in the family's team and in another.

What each must get is worked out from `needs`, the one list; what each got is compared with it. First
everybody asks for what they may not do, with the forms of the family's lead too, and every table must be
found as it was; then each does what they may.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from threading import Lock
from typing import NamedTuple
from urllib.parse import urlencode, urlsplit
from uuid import UUID

from suffice.care.clinic.roles import Act, Role
from tools.attack.forms import Form, read_page
from tools.attack.fuzz import UUIDS
from tools.attack.needs import ANYBODY, NEEDS, NOBODY, PEOPLE, YES, Person, due
from tools.attack.stranger import METHODS
from tools.attack.two_teams import SECRET, Clinic, state
from tools.attack.wire import FORM, Answer, Session

EVERYBODY = (
    *PEOPLE,
    Person("other consultant, in an emergency", Role.CONSULTANT, "other", in_emergency=True),
    Person("other lead, in an emergency", Role.LEAD, "other", in_emergency=True),
)
LEAD = next(one for one in PEOPLE if (one.role, one.team) == (Role.LEAD, "own"))
TAKEN = frozenset({200, 204, 302, 400})
"""What whoever may do something gets: it is done, or the form was sent without what it needs."""
REFUSED_FOR_THE_ROLE = "ACCESS-00"
ENDING = ("lock", "sign-out")
"""Addresses that end what the next request needs: asked last, and signed in again after each."""
TABLE = b"infant,date,weight\n1,2026-01-01,3000\n"
TYPED = "3000"
"""What is typed into a field that a page leaves empty."""
ATTACKERS = 2


class Asked(NamedTuple):
    """One request: by whom, for what, and what may come of it."""

    person: Person
    method: str
    name: str
    path: str
    may_be: frozenset[str]
    fields: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        form = " with a form of the lead" if self.fields else ""
        return f"{self.person.called}: {self.method} {self.name}{form}"


@dataclass
class Found:
    """What came of it.

    Attributes:
        statuses: How often each person got each status.
        wrong: What was not as it must be, in words.
        forms: How many requests sent a form of the lead.
        shown: How many answers named the family to whoever may see it.
        number: The family's.
    """

    number: str = ""
    statuses: dict[Person, Counter[int]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    forms: int = 0
    shown: int = 0

    def note(self, asked: Asked, answer: Answer) -> None:
        """Count an answer, and judge it."""
        self.statuses.setdefault(asked.person, Counter())[answer.status] += 1
        self.forms += bool(asked.fields)
        self.shown += YES in asked.may_be and SECRET in answer.text
        if why := fault_in(asked, answer, self.number):
            self.wrong.append(f"{asked}: {why}")

    def __str__(self) -> str:
        every = sum(one.total() for one in self.statuses.values())
        said = (
            f"{every} requests by {len(self.statuses)} people, {self.forms} with a form of the family's lead;"
            f" {self.shown} showed the family to who may see it; {len(self.wrong)} not as they must be"
        )
        heads = ("let in", 403, 404, 405, "other")
        lines = [said, f"  {'who':36}" + "".join(f"{one:>7}" for one in heads)]
        for person in (one for one in EVERYBODY if one in self.statuses):
            statuses = self.statuses[person]
            counts = [sum(statuses[one] for one in TAKEN), *(statuses[n] for n in (403, 404, 405))]
            counts.append(statuses.total() - sum(counts))
            lines.append(f"  {person.called:36}" + "".join(f"{one:>7}" for one in counts))
        return "\n".join(lines)


def fault_in(asked: Asked, answer: Answer, number: str = "") -> str:
    """What is not as it must be; empty where all is.

    Args:
        asked: The request.
        answer: What came.
        number: The family's, which stands on no page for whoever may not know of it, but on the trail of what
            they and their people asked for.
    """
    status, person = str(answer.status), asked.person
    if person.acts_with_family() is None:
        is_numbered = number and number not in asked.path and number in answer.text
        if SECRET in answer.text or (is_numbered and Act.AUDIT not in NEEDS[asked.name]):
            return "the family is named to somebody who may not know of it"
    if status in asked.may_be:
        if SECRET in answer.text:
            return f"refused with {status}, and the family is named"
        if status == "403" and asked.method != "HEAD" and REFUSED_FOR_THE_ROLE not in answer.text:
            return "refused, and not for the role"
        return ""
    if YES not in asked.may_be:
        return f"{' or '.join(sorted(asked.may_be))}, not {status}"
    if asked.name in ENDING or NOBODY in NEEDS[asked.name]:
        return "" if answer.status < 500 else f"let in, not {status}"
    if answer.headers.get("location", "").startswith("/sign-in/"):
        return "led to signing in"
    return "" if answer.status in TAKEN else f"let in, not {status}"


def may_be(name: str, method: str, person: Person, *, about_family: bool) -> frozenset[str]:
    """What may come of a method at an address."""
    needs = NEEDS[name]
    get, post = (due(need, person, about_family=about_family) for need in needs)
    if method in {"GET", "POST"}:
        return frozenset({get if method == "GET" else post})
    if method == "HEAD":
        return frozenset({get, "405"})
    # The framework's own pages answer these by themselves; they are for all, and name nobody.
    return frozenset({"405", *({YES} if set(needs) <= {ANYBODY, NOBODY, None} else ())})


def parts_of_addresses() -> dict[str, frozenset[str]]:
    """What stands in each address, by its name; Django must be set up."""
    from suffice.web.site.urls import urlpatterns  # noqa: PLC0415 -- only once Django is set up

    return {one.name: frozenset(one.pattern.converters) for one in urlpatterns if one.name}


def filled(form: Form) -> tuple[tuple[str, str], ...]:
    """A form as somebody would send it: the first of each choice, something in each empty field."""
    values = [(name, value or TYPED) for name, value in form.values]
    there = {name for name, _value in values}
    values += [(name, one[0]) for name, one in form.choices.items() if name not in there and one]
    return tuple((name, value) for name, value in values if name != "csrfmiddlewaretoken")


def ask(session: Session, asked: Asked) -> Answer:
    """Ask, with the form token that the program asks for, so that no refusal is for want of it."""
    if asked.method in {"GET", "HEAD", "OPTIONS", "TRACE"}:
        return session.ask(asked.method, asked.path)
    token = session.cookies.get("csrftoken", "")
    body = urlencode([("csrfmiddlewaretoken", token), *asked.fields]).encode()
    return session.ask(asked.method, asked.path, body, {**FORM, "X-CSRFToken": token})


class Matrix:
    """Asks a server for everything, as everybody; Django must be set up with the server's record.

    Args:
        port: Of the server.
        clinic: What is on its record.
        names: Of addresses.
    """

    def __init__(self, port: int, clinic: Clinic, names: Collection[str] = tuple(NEEDS)) -> None:
        self.clinic, self.names = clinic, names
        self.found = Found(str(clinic.family_id))
        self.sessions = {one: Session(port, timeout_s=120) for one in clinic.names}
        self._parts, self._lock = parts_of_addresses(), Lock()
        self._files: dict[Person, str] = {}
        self._step: Callable[[], object] = lambda: None

    def run(self, step: Callable[[], object] = lambda: None) -> Found:
        """Ask; `step` is called after each request."""
        self._step = step
        self._each(self._sign_in)
        self._offered = list(self._forms_of_the_lead())
        before = state()
        self._each(self._refused)
        after = state()
        changed = [one for one in before if before[one] != after[one]]
        if changed:
            self.found.wrong.append(f"what was refused changed {', '.join(changed)}")
        for person in self.sessions:
            self._send_file(person)
        self._each(self._let_in)
        if not self.found.shown:
            self.found.wrong.append("nobody was shown the family: the matrix reaches nothing")
        return self.found

    def _each(self, act: Callable[[Person], object]) -> None:
        with ThreadPoolExecutor(ATTACKERS) as pool:
            for _done in pool.map(act, self.sessions):
                pass

    def _sign_in(self, person: Person) -> None:
        session = self.sessions[person]
        session.sign_in(self.clinic.names[person])
        if person.in_emergency:
            sent = {"why": "a trial", "words": SECRET, "family": str(self.clinic.family_id)}
            answer = session.post("/emergency/", sent)
            if answer.status != 302:
                raise RuntimeError(f"not opened in an emergency: {answer.status}")

    def _send_file(self, person: Person) -> None:
        """A file of their own, and an import of it that is done, for who may import."""
        from suffice.care import jobs  # noqa: PLC0415 -- only once Django is set up

        if Act.OPEN not in person.acts():
            return
        answer = self.sessions[person].send_file(TABLE)
        name = UUIDS.findall(answer.headers["location"])[0]
        counts = dict.fromkeys(("families", "opened", "entries", "repeated", "rows"), 1)
        by = self.clinic.names[person]
        jobs.note_done(jobs.Kind.IMPORT, jobs.Outcome(counts=counts), by=by, job_id=UUID(name))
        self._files[person] = name

    def _every(self, person: Person) -> Iterator[Asked]:
        """Every address in every method, asking before sending."""
        from django.urls import reverse  # noqa: PLC0415 -- only once Django is set up

        for method in sorted(METHODS, key=lambda one: one == "POST"):
            for name in self.names:
                values = self.clinic.values(name, self._parts[name], person)
                if "name" in values and person in self._files:
                    values["name"] = self._files[person]
                path = reverse(name, kwargs=values)
                yield Asked(person, method, name, path, self._may_be(name, method, person))

    def _may_be(self, name: str, method: str, person: Person) -> frozenset[str]:
        return may_be(name, method, person, about_family="family_id" in self._parts[name])

    def _forms_of_the_lead(self) -> Iterator[tuple[str, str, Form]]:
        """What the pages of the family's lead offer to send: name, address and form; each once."""
        from django.urls import resolve  # noqa: PLC0415 -- only once Django is set up

        known = set()
        for one in self._every(LEAD):
            if one.method != "GET" or one.may_be != {YES}:
                continue
            answer = self.sessions[LEAD].get(one.path)
            if not answer.headers.get("content-type", "").startswith("text/html"):
                continue
            for form in read_page(one.path, answer.text)[1]:
                key = (form.action, *(name for name, _value in form.values), *form.choices)
                if form.method == "POST" and key not in known:
                    known.add(key)
                    yield resolve(urlsplit(form.action).path).view_name, form.action, form

    def _refused(self, person: Person) -> None:
        """Ask for all that the person may not do; with what the family's lead would send, too."""
        for one in self._every(person):
            if YES not in one.may_be:
                self._ask(one)
        for name, path, form in self._offered:
            allowed = self._may_be(name, "POST", person)
            if YES not in allowed:
                self._ask(Asked(person, "POST", name, path, allowed, filled(form)))

    def _let_in(self, person: Person) -> None:
        """Ask for all that the person may do."""
        allowed = [one for one in self._every(person) if YES in one.may_be]
        for one in sorted(allowed, key=lambda one: one.name in ENDING):
            self._ask(one)
            if one.name in ENDING:
                self.sessions[person].sign_in(self.clinic.names[person])

    def _ask(self, asked: Asked) -> None:
        answer = ask(self.sessions[asked.person], asked)
        with self._lock:
            self.found.note(asked, answer)
        self._step()
