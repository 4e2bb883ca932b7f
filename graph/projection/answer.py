"""An answer as rows, whatever was asked."""

from __future__ import annotations

from dataclasses import dataclass

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
    """

    question: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    turtle: str | None = None
