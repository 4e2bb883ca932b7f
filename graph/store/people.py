"""Who may do what. A grant replaces the one before it; earlier ones stay on record."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, func, insert, select

from graph.actor import Role
from graph.errors import Conflict, UsageError
from graph.store import table as t
from graph.store.trail import note

if TYPE_CHECKING:
    from graph.store.unit import Unit
    from graph.store.view import View


def granted(connection: Connection, person: str) -> frozenset[Role]:
    """Roles that a person has now; none for somebody whom the shop does not know.

    Parameters
    ----------
    connection : Connection
        Inside a transaction.
    person : str
        Mail address, in any case of letters.

    Returns
    -------
    frozenset of Role
        As granted last.
    """
    c = t.role_grant.c
    query = select(c.roles).where(c.person == person.strip().lower()).order_by(c.id.desc()).limit(1)
    return frozenset(Role(name) for name in connection.execute(query).scalar() or ())


def people(view: View) -> dict[str, frozenset[Role]]:
    """Everybody with a role, by mail address.

    Parameters
    ----------
    view : View
        An open transaction.

    Returns
    -------
    dict of str to frozenset of Role
        In the order of the addresses.

    Raises
    ------
    NotAllowed
        The reader does not administer the database.
    """
    view.actor.need("list who may do what", Role.ADMINISTER)
    c = t.role_grant.c
    newest = select(func.max(c.id)).group_by(c.person)
    rows = view._rows(select(c.person, c.roles).where(c.id.in_(newest)).order_by(c.person))
    return {row["person"]: frozenset(map(Role, row["roles"])) for row in rows if row["roles"]}


def grant(
    unit: Unit, person: str, roles: Iterable[Role], *, who: str, seen: Iterable[Role] | None = None
) -> frozenset[Role]:
    """Let a person do what these roles allow, and nothing else; without a role they may nothing.

    Parameters
    ----------
    unit : Unit
        An open writing transaction.
    person : str
        Mail address, as the sign-in states it.
    roles : iterable of Role
        All that they shall have. Every role includes looking.
    who : str
        Name of a local actor.
    seen : iterable of Role or None
        What they had when the actor looked; None does not ask. Taking every role away never asks.

    Returns
    -------
    frozenset of Role
        What they have now.

    Raises
    ------
    Conflict
        They have other roles than the actor saw; nothing was changed.
    NotAllowed
        The actor does not administer the database.
    UsageError
        No mail address, or the actor's own right to administer would go.
    """
    unit.actor.need("change who may do what", Role.ADMINISTER)
    address = person.strip().lower()
    if "@" not in address or len(address) > 255 or any(letter.isspace() for letter in address):
        raise UsageError(f"found {person!r}; expected is a mail address, as the sign-in states it")
    given = frozenset(roles)
    given = given | {Role.LOOK} if given else given
    if not unit.actor.local and address == unit.actor.name.lower() and Role.ADMINISTER not in given:
        raise UsageError(f"{address} would no longer administer the database; let somebody else take the role away")
    before = granted(unit._connection, address)
    looked = None if seen is None else frozenset(seen) | ({Role.LOOK} if before else frozenset())
    if looked is not None and given and before not in (given, looked):
        raise _unseen(unit._connection, address, before)
    said = [role.value for role in Role if role in given]
    by = who if unit.actor.local else unit.actor.name
    unit._connection.execute(insert(t.role_grant).values(person=address, roles=said, at=datetime.now(UTC), by=by))
    detail = {"before": [role.value for role in Role if role in before], "after": said}
    note(unit._connection, unit.actor, "grant roles", address, who=who, detail=detail)
    return given


def _unseen(connection: Connection, address: str, before: frozenset[Role]) -> Conflict:
    c = t.role_grant.c
    last = connection.execute(
        select(c.by, c.at).where(c.person == address).order_by(c.id.desc()).limit(1)
    ).one_or_none()
    held = ", ".join(role.value for role in Role if role in before) or "nothing"
    by = "" if last is None else f", as {last.by} granted on {last.at:%Y-%m-%d at %H:%M} UTC"
    return Conflict(
        f"{address} may {held}{by}, and you had seen otherwise; nothing was changed: "
        f"look again before you replace that (at the command line: --seen '{held}')"
    )
