"""What a customer decided on a sheet, line by line; what was declined stays on record and comes back at the next visit."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import Enum

from graph.errors import UsageError

#: Lines of a sheet besides places of the car.
WAYS = ("good", "better", "best")
LOOK, BRAKES, NOTHING = "look", "brakes", "nothing"


class Answer(Enum):
    """What was said to a line."""

    YES = "yes"
    NO = "no"
    LATER = "later"


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One answer to one line of a sheet.

    Parameters
    ----------
    car : str
        Id of the car.
    line : str
        One of :data:`WAYS`, ``look``, ``brakes``, ``nothing``, or a slot of the car.
    answer : Answer
        What was said.
    reason : str
        Why, in the customer's words; a declined line needs one.
    initials : str
        Of the customer, where a part that can break is declined.
    harmful : bool
        True where the line is about something that can do harm.
    power : float or None
        That the line offered [W].
    total : float or None
        That it cost with tax [currency].
    by, at : str
        Who recorded it and when (ISO date and time); the store fills in the time.

    Raises
    ------
    UsageError
        A declined line has no reason, or lacks the initials that it needs.
    """

    car: str
    line: str
    answer: Answer
    reason: str = ""
    initials: str = ""
    harmful: bool = False
    power: float | None = None
    total: float | None = None
    by: str = ""
    at: str = ""

    def __post_init__(self) -> None:
        if self.answer is Answer.NO and not self.reason.strip():
            raise UsageError(f"{self.line}: a declined line stays on record with its reason; say why")
        if self.answer is not Answer.YES and self.harmful and not self.initials.strip():
            raise UsageError(
                f"{self.line}: what can do harm is declined or put off with the customer's initials; add them"
            )


def still_open(decisions: Collection[Decision]) -> tuple[Decision, ...]:
    """What was declined or put off and not accepted since.

    Parameters
    ----------
    decisions : collection of Decision
        Of one car, oldest first.

    Returns
    -------
    tuple of Decision
        The newest answer to each line, unless it is yes or is about leaving the car as it is; oldest first.
    """
    newest: dict[str, Decision] = {}
    for decision in decisions:
        newest.pop(decision.line, None)
        newest[decision.line] = decision
    return tuple(d for d in newest.values() if d.answer is not Answer.YES and d.line != NOTHING)
