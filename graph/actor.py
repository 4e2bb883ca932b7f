"""Who acts, from where, and what the shop lets them do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from graph.errors import NotAllowed


class Role(Enum):
    """What a person may do in a shop; a person may have several."""

    LOOK = "look"
    ADVISE = "advise"
    CALIBRATE = "calibrate"
    KEEP = "keep the book"
    ADMINISTER = "administer"


#: What each role is for, in the words of the refusal and of the list of roles.
MEANING = {
    Role.LOOK: "read the book, ask, check and plan",
    Role.ADVISE: "record cars, what is on them and what was found",
    Role.CALIBRATE: "record pulls and calibrations",
    Role.KEEP: "load sheets, correct ratings, bring back revisions",
    Role.ADMINISTER: "back up, bring a backup back, change who may do what, read the audit trail",
}
EVERYTHING = frozenset(Role)
WRITING = EVERYTHING - {Role.LOOK}


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """A person at work.

    Parameters
    ----------
    name : str
        As recorded with what they do: the sign-in's mail address, or the user of this machine.
    place : str
        From where, such as ``command line on bench-2``.
    roles : frozenset of Role
        What they may do. The store replaces them by those that the shop granted, unless the person is local.
    local : bool
        True where the operating system vouches for the person and the file rights are the limit.
    """

    name: str
    place: str
    roles: frozenset[Role] = frozenset()
    local: bool = False

    def may(self, *roles: Role) -> bool:
        """True with at least one of these roles."""
        return bool(self.roles.intersection(roles))

    def need(self, what: str, *roles: Role) -> None:
        """Refuse what none of the person's roles allows.

        Parameters
        ----------
        what : str
            What is wanted, as a verb: ``load parts``.
        roles : Role
            Any one of them is enough.

        Raises
        ------
        NotAllowed
            The person has none of them.
        """
        if not self.may(*roles):
            wanted = " or ".join(f"'{role.value}'" for role in Role if role in roles)
            held = ", ".join(role.value for role in Role if role in self.roles)
            raise NotAllowed(
                f"{self.name} may not {what}: that needs the role {wanted}, "
                + (f"and the shop granted {held}" if held else "and the shop granted none yet")
                + "; ask who administers the database"
            )


#: Whoever runs the program on this machine, when no sign-in stands before it.
LOCAL = Actor(name="", place="this machine", roles=EVERYTHING, local=True)
