"""Engine states remembered from one target to the next: a state depends on no power and no boost cap."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence

from graph.model import Target
from graph.operation import Engine, EngineMap, solve, stack_paths

#: Engine states kept for further targets: the fine and the coarse grid of one build, fuel and day.
REMEMBERED = 2


class Memory:
    """Engine states of the last questions: a state depends on no power and no boost cap, so targets share it."""

    def __init__(self) -> None:
        self._maps: dict[Hashable, EngineMap] = {}

    def solved(self, engine: Engine, paths: Sequence[Mapping[str, float]], target: Target) -> EngineMap:
        """States of configurations, remembered or solved.

        Parameters
        ----------
        engine : Engine
            Platform and speed grid.
        paths : list of mapping
            For each configuration the fields of the path that differ from the reference [SI].
        target : Target
            For its fuel, weather and latest phasing.

        Returns
        -------
        EngineMap
            The same bits either way.
        """
        names = tuple(tuple(sorted(p.items())) for p in paths)
        key = (engine, target.fuel, target.weather, target.latest_phasing, names)
        if key not in self._maps:
            while len(self._maps) >= REMEMBERED:
                del self._maps[next(iter(self._maps))]
            self._maps[key] = solve(engine, stack_paths(paths), target.fuel, target.weather, target.latest_phasing)
        return self._maps[key]
