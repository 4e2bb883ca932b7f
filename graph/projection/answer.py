"""An answer as rows, whatever was asked."""

from __future__ import annotations

from dataclasses import dataclass, replace

Cell = str | float | int | bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Rows under column names.

    Parameters
    ----------
    question : str
        What was asked.
    columns : tuple of str
        Names; a number's SI unit stands in brackets behind its name.
    rows : tuple of tuple
        Values in the order of the columns, None for what is not known.
    turtle : str or None
        For statements: the same in Turtle.
    left : int
        How many rows more the answer has than are here [1].
    """

    question: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    turtle: str | None = None
    left: int = 0

    @property
    def count(self) -> int:
        """How many rows the whole answer has."""
        return len(self.rows) + self.left

    def begun(self, first: int | None, left: int = 0) -> Answer:
        """The first rows alone; `left` of the whole are already left out."""
        kept = self.rows if first is None else self.rows[:first]
        return replace(self, rows=kept, left=left + len(self.rows) - len(kept))
