"""What was found for one car and one book whatever the power asked, so that the next target need not find it again."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Any

from graph.memory import Memory
from graph.model import Array, Fuel

#: A fuel, a number of speeds and a path: what an engine state depends on besides platform and weather.
Solved = tuple[Fuel, int | None, tuple[tuple[str, float], ...]]
#: Most numbers of engine states kept in store.
STORED = 30_000_000
#: Finished cars of which the engine states are kept.
FINISHED = 6


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
    carried : dict
        What a solved state carries: the engine's own curve and power, and what options carry in it.
    memories : dict
        Engine states of finished cars that were checked in full.
    opened : dict
        Choices with their model, to be asked about another power.
    marks : dict
        Number of everything that some option says to the engine and to other parts.
    columns : dict
        Column of each uncertain rating among the draws; what is found here is told in these columns.
    draws : array, shape (S, columns), or None
        In standard deviations [1].
    """

    solved: dict[Solved, Array] = field(default_factory=dict)
    alone: dict[tuple[Any, ...], Any] = field(default_factory=dict)
    made: dict[tuple[Any, ...], Any] = field(default_factory=dict)
    held: int = 0
    carried: dict[tuple[Any, ...], Any] = field(default_factory=dict)
    memories: dict[Hashable, Memory] = field(default_factory=dict)
    opened: dict[Hashable, Any] = field(default_factory=dict)
    marks: dict[Hashable, int] = field(default_factory=dict)
    columns: dict[tuple[str, str, str], int] = field(default_factory=dict)
    draws: Array | None = None

    def memory(self, key: Hashable) -> Memory:
        """Engine states of one finished car; those of the last few are kept."""
        found = self.memories.pop(key, None) or Memory()
        self.memories[key] = found
        for old in list(self.memories)[: max(0, len(self.memories) - FINISHED)]:
            del self.memories[old]
        return found

    def keep(self, key: Solved, states: Array) -> None:
        """Store the states of one configuration, and forget the oldest where there are too many."""
        self.solved[key] = states
        self.held += states.size
        while self.held > STORED:
            self.held -= self.solved.pop(next(iter(self.solved))).size
