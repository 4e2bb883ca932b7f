"""What the search asks of a model of the car; the physics answers it, and so may a table in a test."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Protocol


class Settled(Protocol):
    """A car whose engine state is known, with the slots that do not feed it still open."""

    @property
    def engine(self) -> bool:
        """True if the engine makes the target in this car."""

    @property
    def engine_survival(self) -> int:
        """Joint samples in which the engine makes the target, one bit each."""

    def allowed(self, slot: int, option: int) -> bool:
        """True if every limit of an option is clear and carries the target in this car."""

    def survival(self, slot: int, option: int) -> int:
        """Joint samples in which every limit of an option carries the target, one bit each."""


class Model(Protocol):
    """What is known of the choices.

    Parameters
    ----------
    context : tuple of int
        Slots on which the verdict of every part alone depends: fuel, breathing, what parts offer to others.
    core : tuple of int
        Slots that decide the engine's state, the context among them.
    late : tuple of int
        Slots of the context that matter to some verdicts only, and not to the engine's state.
    linking : tuple of int
        Slots whose parts say something to the limits of their neighbours.
    samples : int
        Joint samples [1].
    least : int
        Samples in which the finished car must carry the target [1].
    """

    context: tuple[int, ...]
    core: tuple[int, ...]
    late: tuple[int, ...]
    linking: tuple[int, ...]
    samples: int
    least: int

    def engine(self, context: Mapping[int, int]) -> bool:
        """True if the engine alone makes the target in a context."""

    def clear(self, context: Mapping[int, int], slot: int, option: int) -> bool:
        """False if a limit of an option, judged alone in a context, is not clear; True where that is still open."""

    def alike(self, slot: int, option: int) -> Hashable:
        """What an option says to the engine's state and to other parts; the same for options that say the same."""

    def hears(self, slot: int, option: int) -> bool:
        """True if the verdict of an option alone depends on the late slots, be it its own."""

    def glance(self, cores: Sequence[Mapping[int, int]]) -> Sequence[tuple[int, ...] | None]:
        """For some choices of the core, the slots whose parts fail the target there for certain; None if the engine does."""

    def settle(self, cores: Sequence[Mapping[int, int]]) -> Sequence[Settled]:
        """Solve the engine's state for some choices of the core, or of the core and what is linking.

        Without the linking slots a limit that hears its neighbours is not judged: all it could say is left open.
        """

    def confirm(self, selection: Sequence[int]) -> bool:
        """True if the full check of a complete choice finds everything in order."""
