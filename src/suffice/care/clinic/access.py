"""May somebody do this? Asked once for a person, and of a family before it is loaded.

Whoever has no role in the team of a family is told that there is no such family; whoever may read it
and not do what was asked is told so.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Final
from uuid import UUID

import msgspec

from suffice.care.clinic.roles import ACTS, IN_EMERGENCY, Act, Duty, Role
from suffice.errors import InputError, Problem
from suffice.message import Message, message
from suffice.record import repository, teams


class Access(msgspec.Struct, frozen=True, kw_only=True):
    """What one person may do.

    Attributes:
        user_id: The number of the user; 0 for nobody.
        name: The name that the person signs in with.
        roles: The person's role in each team that the person belongs to.
        duties: What the person does for the whole clinic.
        teams: Every team of the clinic, with its name.
        has_colleagues: Whether anybody else enters anything for any family.
        has_codes: Whether the person signs in with a one-time code too.
        has_passkey: Whether the person has a passkey.
    """

    user_id: int = 0
    name: str = ""
    roles: Mapping[UUID, Role] = {}
    duties: frozenset[Duty] = frozenset()
    teams: Mapping[UUID, str] = {}
    has_colleagues: bool = False
    has_codes: bool = False
    has_passkey: bool = False

    def may(self, act: Act) -> bool:
        """Whether any role or duty of the person allows an act that is not about one family."""
        mine: tuple[Role | Duty, ...] = (*self.roles.values(), *self.duties)
        return any(act in ACTS[one] for one in mine)

    def acts_in(self, team_id: UUID) -> frozenset[Act]:
        """What the person may do with the families of a team; duties open none."""
        role = self.roles.get(team_id)
        return frozenset() if role is None else ACTS[role]

    def teams_for(self, act: Act) -> tuple[UUID, ...]:
        """The person's teams in which an act is allowed, in the order of their names."""
        return tuple(one for one in self.teams if act in self.acts_in(one))

    @property
    def scope(self) -> tuple[UUID, ...] | None:
        """The teams whose families the person sees; None where those are all there are."""
        own = self.teams_for(Act.READ)
        return None if own and len(own) == len(self.teams) else own

    @property
    def shows_teams(self) -> bool:
        """Whether pages speak of teams at all: where there is one, nobody needs to know of it."""
        return len(self.teams) > 1

    @property
    def has_factor(self) -> bool:
        """Whether the person has a second factor: one-time codes, or a passkey."""
        return self.has_codes or self.has_passkey

    @property
    def is_administrator(self) -> bool:
        """Whether the person looks after accounts and teams of the whole clinic."""
        return Duty.ADMINISTRATOR in self.duties

    @property
    def sees_families(self) -> bool:
        """Whether there is any team whose families the person sees."""
        return self.may(Act.READ)

    @property
    def opens_families(self) -> bool:
        """Whether the person may open families and import them."""
        return self.may(Act.OPEN)

    @property
    def changes_policy(self) -> bool:
        """Whether the person may change the policy."""
        return self.may(Act.POLICY)

    @property
    def manages_people(self) -> bool:
        """Whether the person may invite others and change what they may do."""
        return self.may(Act.PEOPLE)

    @property
    def passes_on(self) -> bool:
        """Whether the person may pass families on, and there is somebody to take them."""
        return self.may(Act.PASS_ON) and (self.has_colleagues or self.shows_teams)

    @property
    def enters(self) -> bool:
        """Whether there is any team for whose families the person may enter something."""
        return self.may(Act.WRITE)

    @property
    def oversees(self) -> bool:
        """Whether the person sees what others opened in an emergency."""
        return self.may(Act.OVERSEE)

    @property
    def confirms_erasures(self) -> bool:
        """Whether the person may confirm that a family is erased for which somebody else has asked."""
        return self.may(Act.CONFIRM_ERASURE)

    @property
    def audits(self) -> bool:
        """Whether the person may read who did and saw what."""
        return self.may(Act.AUDIT)

    @property
    def audited_teams(self) -> tuple[UUID, ...] | None:
        """The teams of which the person reads who did what, where that is allowed; None for the whole clinic."""
        own = self.teams_for(Act.AUDIT)
        return None if Duty.AUDITOR in self.duties or len(own) == len(self.teams) else own

    @property
    def manages_teams(self) -> bool:
        """Whether the person may make teams and name them."""
        return self.may(Act.TEAMS)

    @property
    def sees_state(self) -> bool:
        """Whether the person sees how the record itself is: backups, checks, room."""
        return self.may(Act.STATE)


NO_ACCESS = Access()


def access_of(user_id: int, name: str, *, is_administrator: bool) -> Access:
    """What a user who has signed in may do; one query.

    Args:
        user_id: The number of the user.
        name: The name that the user signs in with.
        is_administrator: Whether the user looks after the accounts of the clinic.
    """
    kept = teams.membership_of(user_id)
    duties = {Duty.ADMINISTRATOR: is_administrator, Duty.AUDITOR: kept.is_auditor}
    return Access(
        user_id=user_id,
        name=name,
        roles={row.id: Role(row.role) for row in kept.teams if row.role is not None},
        duties=frozenset(duty for duty, has_it in duties.items() if has_it),
        teams={row.id: row.name for row in kept.teams},
        has_colleagues=kept.has_colleagues,
        has_codes=kept.has_codes,
        has_passkey=kept.has_passkey,
    )


def acts_with(access: Access, family_id: UUID, *, now: datetime) -> frozenset[Act]:
    """What a person may do with a family, in an emergency included.

    Raises:
        InputError: RECORD-001, when there is no such family, or none that the person may know of.
    """
    team_id = teams.team_of(family_id)
    if team_id is None:
        raise InputError(repository.no_family(family_id))
    acts = access.acts_in(team_id)
    if Act.READ in acts:
        return acts
    # What allowed somebody to open it may have been taken away since: it ends with that, not hours later.
    if access.may(Act.WRITE) and teams.is_open_to(family_id, access.user_id, now=now):
        return IN_EMERGENCY
    raise InputError(repository.no_family(family_id))


def check_family(access: Access, family_id: UUID, act: Act, *, now: datetime) -> frozenset[Act]:
    """Refuse, unless a person may do an act with a family; what else the person may do with it.

    Raises:
        InputError: RECORD-001, when there is no such family, or none that the person may know of;
            ACCESS-001, when the person may read it and not do this.
    """
    acts = acts_with(access, family_id, now=now)
    if act not in acts:
        raise InputError(not_allowed(act))
    return acts


def need(access: Access, act: Act) -> None:
    """Refuse, unless a person may do an act that is not about one family.

    Raises:
        InputError: ACCESS-001.
    """
    if not access.may(act):
        raise InputError(not_allowed(act))


def check_import(
    access: Access | None, family_ids: Collection[UUID], *, now: datetime
) -> frozenset[UUID]:
    """Refuse an import into families that a person may not write to.

    Args:
        access: What the person may do; None for whoever runs the program.
        family_ids: The families.
        now: The instant.

    Returns:
        Those of them that are new, for which :func:`team_of_new` says to which team they go.

    Raises:
        InputError: ACCESS-001, when the person may open no family; ACCESS-002, when the file holds a
            family that is on the record and not the person's to write to.
    """
    if access is not None:
        need(access, Act.OPEN)
    there = teams.teams_of_families(family_ids)
    others = {
        family_id
        for family_id, team in there.items()
        if access is not None and Act.WRITE not in access.acts_in(team)
    }
    if access is not None and others and others - teams.open_to(access.user_id, now=now):
        raise InputError(_of_another_team())
    return frozenset(family_ids) - there.keys()


def team_of_new(access: Access | None, team_id: UUID | None, *, now: datetime) -> UUID:
    """The team to which families go that a person opens or imports.

    Args:
        access: What the person may do; None for whoever runs the program.
        team_id: The team that was named; None where none was.
        now: The instant, for the first team where there is none yet.

    Raises:
        InputError: ACCESS-001, when the person may open no family; ACCESS-003, when there are several
            teams in which the person may, and none was named, or another one.
    """
    if access is None:
        own = tuple(teams.team_names()) or (teams.first_team(now=now),)
    else:
        need(access, Act.OPEN)
        own = access.teams_for(Act.OPEN)
    if team_id is None and len(own) == 1:
        return own[0]
    if team_id not in own:
        raise InputError(NO_TEAM)
    return team_id


NAMES: dict[Act, Message] = {
    Act.READ: message("see families"),
    Act.WRITE: message("enter or change anything of this family"),
    Act.EXPORT: message("export this family"),
    Act.PASS_ON: message("pass on this family"),
    Act.OPEN: message("open or import families"),
    Act.PEOPLE: message("change who may sign in and what they may do"),
    Act.TEAMS: message("change the teams"),
    Act.POLICY: message("change the policy"),
    Act.AUDIT: message("see who did what"),
    Act.OVERSEE: message("see what was opened in an emergency"),
    Act.ERASE: message("ask for this family to be erased"),
    Act.CONFIRM_ERASURE: message("confirm that a family is erased"),
    Act.STATE: message("see the state of the record"),
}


def not_allowed(act: Act) -> Problem:
    """The problem of an act that somebody's role does not allow."""
    return Problem(
        code="ACCESS-001",
        what=message("Your role does not let you {act}.", act=NAMES[act]),
        why=message("Nothing was changed."),
        fix=message("Ask a lead of your team or an administrator, who can change your role."),
    )


NO_TEAM: Final = Problem(
    code="ACCESS-003",
    what=message("To which team do new families go?"),
    why=message("There are several teams in which you may open families."),
    fix=message("Choose the one that will look after them."),
    where="--team",
)


def _of_another_team() -> Problem:
    return Problem(
        code="ACCESS-002",
        what=message("The file contains a family that another team looks after."),
        why=message("You may not enter anything for it; nothing was stored."),
        fix=message("Ask a colleague of that team to import it, or to pass the family on to you."),
    )
