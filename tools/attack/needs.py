"""What each address of the program needs: the one list that whoever attacks it, or tests it, goes by.

**A new address fails `tests/web/test_access_matrix.py` until it says in NEEDS what it needs**: for GET and
for POST an Act of `care/clinic/roles.py`, ANYBODY (who has signed in) or NOBODY (open to all), and None where
the method is not taken. Its view begins with `family_of` or `allowed` of `suffice.web.access` when its
address names a family, and with `need` when it does not; what else stands in the address gets a value in
WORDS, or in what each user of this list adds to it.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from suffice.care.clinic.roles import ACTS, IN_EMERGENCY, Act, Duty, Role

ANYBODY: Final = "anybody"
NOBODY: Final = "nobody"
READ, WRITE, OPEN = Act.READ, Act.WRITE, Act.OPEN
Need = Act | str | None

NEEDS: Final[dict[str, tuple[Need, Need]]] = {
    "caseload": (ANYBODY, ANYBODY),
    "shift": (ANYBODY, None),
    "family-seen": (READ, None),
    "trail": (Act.AUDIT, None),
    "trail-export": (Act.AUDIT, None),
    "home-log": (WRITE, WRITE),
    "milk": (READ, WRITE),
    "milk-labels": (READ, None),
    "plan-day": (READ, None),
    "plan-preview": (None, READ),
    "note-sign": (None, WRITE),
    "note-amend": (None, WRITE),
    "paper-given": (None, WRITE),
    "family-new": (OPEN, OPEN),
    "family": (READ, None),
    "family-next": (READ, None),
    "family-entries": (READ, None),
    "feed-watch": (WRITE, WRITE),
    "feed-reading": (None, WRITE),
    "feed": (READ, None),
    "plan": (READ, WRITE),
    "photograph-new": (WRITE, WRITE),
    "photograph": (READ, WRITE),
    "photograph-picture": (READ, None),
    "looks-wrong": (WRITE, None),
    "contact": (READ, WRITE),
    "contact-problem": (None, WRITE),
    "contact-score": (WRITE, WRITE),
    "contact-part": (READ, None),
    "contact-answer": (None, WRITE),
    "contact-expected": (None, WRITE),
    "quick": (None, WRITE),
    "undo": (None, WRITE),
    "entry-day": (WRITE, WRITE),
    "entry-new": (WRITE, WRITE),
    "entry-correct": (WRITE, WRITE),
    "entry-withdraw": (WRITE, WRITE),
    "papers": (READ, None),
    "paper": (READ, None),
    "export": (Act.EXPORT, None),
    "export-whole": (Act.EXPORT, None),
    "erase": (Act.ERASE, Act.ERASE),
    "erasures": (Act.CONFIRM_ERASURE, Act.CONFIRM_ERASURE),
    "import": (OPEN, OPEN),
    "import-family": (OPEN, OPEN),
    "import-table": (OPEN, OPEN),
    "import-cancel": (None, OPEN),
    "import-progress": (OPEN, None),
    "import-reading": (OPEN, None),
    "bench": (ANYBODY, ANYBODY),
    "library": (ANYBODY, None),
    "class-kit": (ANYBODY, None),
    "class-file": (ANYBODY, None),
    "shortcuts": (ANYBODY, None),
    "policy": (ANYBODY, Act.POLICY),
    "people": (ANYBODY, Act.PEOPLE),
    "person": (Act.PEOPLE, Act.PEOPLE),
    "choose-passphrase": (NOBODY, NOBODY),
    "state": (Act.STATE, None),
    "teams": (Act.TEAMS, Act.TEAMS),
    "pass-on": (Act.PASS_ON, Act.PASS_ON),
    "pass-list-on": (Act.PASS_ON, Act.PASS_ON),
    "emergency": (WRITE, WRITE),
    "emergency-opened": (Act.OVERSEE, Act.OVERSEE),
    "sign-in": (NOBODY, NOBODY),
    "sign-in-code": (NOBODY, NOBODY),
    "sign-in-passkey": (None, NOBODY),
    "sign-in-outside": (NOBODY, None),
    "sign-in-outside-back": (NOBODY, None),
    "passkeys": (ANYBODY, ANYBODY),
    "sign-out": (None, ANYBODY),
    "lock": (None, ANYBODY),
    "first-user": (NOBODY, NOBODY),
    "account": (ANYBODY, ANYBODY),
    "factor": (ANYBODY, ANYBODY),
    "awake": (None, ANYBODY),
    "passphrase": (ANYBODY, ANYBODY),
    "first-run": (Act.POLICY, Act.POLICY),
    "help": (ANYBODY, None),
}
"""Name of an address to what its GET and its POST need."""

WORDS: Final[dict[str, dict[str, str]]] = {
    "contact-score": {"which": "latch"},
    "class-file": {"which": "handout"},
    "contact-part": {"key": "latch"},
    "contact-answer": {"key": "latch"},
    "contact-expected": {"key": "latch"},
    "entry-new": {"kind": "weight"},
    "paper": {"kind": "note"},
    "person": {"user": "somebody"},
    "choose-passphrase": {"token": "no-such-token"},
}
"""Name of an address to what stands in it, the numbers of families, entries and files apart."""


class Person(NamedTuple):
    """Somebody who has signed in.

    Attributes:
        called: Who that is, in a table.
        role: Their role in a team.
        team: Which team: `own` looks after the family that is asked about, `other` does not.
        duty: What they do for the whole clinic.
        in_emergency: Whether they have opened that family in an emergency.
    """

    called: str
    role: Role | None = None
    team: str = ""
    duty: Duty | None = None
    in_emergency: bool = False

    def acts_with_family(self) -> frozenset[Act] | None:
        """What they may do with the family; None where they may not know of it."""
        if self.role is not None and self.team == "own":
            return ACTS[self.role]
        return IN_EMERGENCY if self.in_emergency else None

    def acts(self) -> frozenset[Act]:
        """What they may do that is not about one family."""
        mine = [one for one in (self.role, self.duty) if one is not None]
        return frozenset().union(*(ACTS[one] for one in mine))


PEOPLE: Final = (
    *(Person(f"own {role}", role, "own") for role in Role),
    *(Person(f"other {role}", role, "other") for role in Role),
    Person("administrator", duty=Duty.ADMINISTRATOR),
    Person("auditor", duty=Duty.AUDITOR),
    Person("nothing"),
    Person("other lead and administrator", Role.LEAD, "other", Duty.ADMINISTRATOR),
)
YES: Final = "yes"


def due(need: Need, person: Person, *, about_family: bool) -> str:
    """`yes`, or the status of the refusal that somebody must get."""
    if need is None:
        return "405"
    if not isinstance(need, Act):
        return YES
    if not about_family:
        return YES if need in person.acts() else "403"
    acts = person.acts_with_family()
    if acts is None:
        return "404"
    return YES if need in acts else "403"
