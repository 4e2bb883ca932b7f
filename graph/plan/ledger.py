"""What was found for one car and one book whatever the power asked, so that the next target need not find it again."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from graph.model import Array, Fuel

#: A fuel, a number of speeds and a path: what an engine state depends on besides platform and weather.
Solved = tuple[Fuel, int | None, tuple[tuple[str, float], ...]]
#: Most numbers of engine states kept in store.
STORED = 30_000_000


@dataclass(slots=True, eq=False)
class Ledger:
    """What was found for one car, one book and one day, whatever the power asked.

    Parameters
    ----------
    solved : dict
        Engine states.
    alone : dict
        What every option carries when judged alone.
    made : dict
        What the engine alone makes, sample by sample.
    held : int
        Numbers in the store of engine states.
    columns : dict
        Column of each uncertain rating among the draws; what is found here is told in these columns.
    draws : array, shape (S, columns), or None
        In standard deviations [1].
    """

    solved: dict[Solved, Array] = field(default_factory=dict)
    alone: dict[tuple[Any, ...], Any] = field(default_factory=dict)
    made: dict[tuple[Any, ...], Any] = field(default_factory=dict)
    held: int = 0
    columns: dict[tuple[str, str, str], int] = field(default_factory=dict)
    draws: Array | None = None

    def keep(self, key: Solved, states: Array) -> None:
        """Store the states of one configuration, and forget the oldest where there are too many."""
        self.solved[key] = states
        self.held += states.size
        while self.held > STORED:
            self.held -= self.solved.pop(next(iter(self.solved))).size
