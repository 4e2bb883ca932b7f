"""A study written as lists (TOML) whose combinations are multiplied out.

Every combination is one assessment::

    cars = ["car-a", "car-b"]
    power = { from = "250 kW", to = "400 kW", step = "5 kW" }      # or a list: ["305 kW", "340 kW"]
    boost = ["1.9 bar", "2.2 bar"]
    fuel = ["ron98", "e30"]
    samples = 0

    [choose]                                 # one of each list; "own" is what is on the car
    turbine = ["own", "PY-3110"]

    [[day]]
    name = "summer"
    ambient = "35 °C"
"""

from __future__ import annotations

import itertools
import math
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from graph.errors import UsageError
from graph.service import Request
from graph.study import MOST_CASES, Case
from ingest.problem import UnreadableValue
from ingest.study_word import OWN, QUANTITIES, quantity_of

LARGEST_TEXT = 1 << 20
DAY = ("ambient", "altitude", "pressure", "minutes")
LISTS = ("cars", "power", "boost", "fuel", "torque", "power speed")
NUMBERS = ("samples", "chunk")


def read_lists(path: Path) -> tuple[tuple[Case, ...], dict[str, int]]:
    """Read a study that is written as lists.

    Parameters
    ----------
    path : Path
        A TOML file.

    Returns
    -------
    cases : tuple of Case
        Every combination [SI].
    numbers : dict of str to int
        Of :data:`NUMBERS`, those that the file states.

    Raises
    ------
    UsageError
        The file cannot be read; everything that is wrong in it.
    """
    try:
        if path.stat().st_size > LARGEST_TEXT:
            raise UsageError(f"{path.name} is larger than {LARGEST_TEXT >> 20} MB; name ranges in place of long lists")
        given = tomllib.loads(path.read_text("utf-8-sig"))
    except OSError as error:
        raise UsageError(f"{path} cannot be read ({error.strerror}); check the name") from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        raise UsageError(f"{path.name} is no TOML file ({str(error) or 'nested too deeply'})") from None
    reading = _Reading(file=path.name)
    cases = reading.cases(given)
    if reading.wrong:
        raise UsageError(f"{path.name}: " + "; ".join(reading.wrong))
    return cases, {name: int(given[name]) for name in NUMBERS if name in given}


class _Reading:
    """One TOML file; collects everything that is wrong with it."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.wrong: list[str] = []

    def cases(self, given: Mapping[str, Any]) -> tuple[Case, ...]:
        """Every combination, the powers innermost: neighbours share the engine's states."""
        for name in given:
            if name not in (*LISTS, *NUMBERS, "choose", "day", "build"):
                self.wrong.append(
                    f"no key is called {name!r}; known: {', '.join((*LISTS, *NUMBERS))}, choose, build, day"
                )
        for name in NUMBERS:
            if name in given and (isinstance(given[name], bool) or not isinstance(given[name], int)):
                self.wrong.append(f"{name}: found {given[name]!r}, expected is a whole number")
        cars = self.words(given, "cars")
        if not cars:
            self.wrong.append("cars: name at least one")
        axes = {name: self.quantities(name, given.get(name)) for name in ("torque", "power speed", "boost", "power")}
        if axes["power"] == [None]:
            self.wrong.append('power: name at least one, such as ["340 kW"]')
        fuels: Sequence[str | None] = self.words(given, "fuel") or [None]
        builds, days = self.builds(given), self.days(given)
        count = math.prod((len(cars), len(builds), len(fuels), len(days), *(len(axis) for axis in axes.values())))
        if count > MOST_CASES:
            self.wrong.append(f"{count} assessments are more than {MOST_CASES}; make it several studies")
        if self.wrong:
            return ()
        combined = itertools.product(cars, builds, fuels, days, *axes.values())
        return tuple(
            Case(
                car=car,
                build=build,
                day=day,
                request=Request(
                    power=power, boost=boost, fuel=fuel, torque=torque, power_speed=speed, install=install, **weather
                ),
            )
            for car, (build, install), fuel, (day, weather), torque, speed, boost, power in combined
        )

    def words(self, given: Mapping[str, Any], name: str) -> list[str]:
        found = given.get(name, [])
        found = [found] if isinstance(found, str) else found
        if not isinstance(found, list) or not all(isinstance(w, str) and w.strip() for w in found):
            self.wrong.append(f"{name}: found {_shown(found)}, expected is a list of texts")
            return []
        return [w.strip() for w in found]

    def quantities(self, name: str, found: Any) -> list[Any]:
        if found is None:
            return [None]
        if isinstance(found, dict):
            return self.steps(name, found)
        listed = found if isinstance(found, list) else [found]
        return [v for v in (self.value(name, text) for text in listed) if v is not None] or [None]

    def value(self, name: str, text: Any) -> float | None:
        if not isinstance(text, str):
            self.wrong.append(f'{name}: found {_shown(text)}, expected is a text with a unit, such as "340 kW"')
            return None
        try:
            return quantity_of(text, name)
        except UnreadableValue as error:
            self.wrong.append(f"{name}: {error}")
            return None

    def steps(self, name: str, found: Mapping[str, Any]) -> list[Any]:
        if set(found) != {"from", "to", "step"}:
            self.wrong.append(f"{name}: found the keys {', '.join(map(str, found))}, expected are from, to, step")
            return [None]
        first, last, step = (self.value(name, found[key]) for key in ("from", "to", "step"))
        if first is None or last is None or step is None:
            return [None]
        if not step > 0.0 or last < first or (last - first) / step > MOST_CASES:
            self.wrong.append(f"{name}: from, to and step give no list of values")
            return [None]
        return [first + n * step for n in range(math.floor((last - first) / step * (1.0 + 1e-12) + 1e-9) + 1)]

    def builds(self, given: Mapping[str, Any]) -> list[tuple[str, tuple[str, ...]]]:
        """Named sets of parts, each with every combination of what may be chosen."""
        entries = self.tables(given, "build", ("name", "install"))
        named = [(str(entry.get("name", "")), tuple(self.words(entry, "install"))) for entry in entries]
        chosen = given.get("choose", {})
        if not isinstance(chosen, dict):
            self.wrong.append(f"choose: found {_shown(chosen)}, expected is a table of lists of part numbers")
            return named
        lists = [self.words(chosen, key) for key in chosen]
        found: list[tuple[str, tuple[str, ...]]] = []
        choices = itertools.islice(itertools.product(*lists), MOST_CASES)
        for more in (tuple(p for p in parts if p != OWN) for parts in choices):
            for name, install in named or [("", ())]:
                found.append((" + ".join(filter(None, (name, *more))) or OWN, (*install, *more)))
        return found

    def days(self, given: Mapping[str, Any]) -> list[tuple[str, dict[str, Any]]]:
        found: list[tuple[str, dict[str, Any]]] = []
        for number, entry in enumerate(self.tables(given, "day", ("name", *DAY)), start=1):
            values = {QUANTITIES[key][0]: self.value(key, entry[key]) for key in DAY if key in entry}
            found.append((str(entry.get("name", f"day {number}")), values))
        return found or [("", {})]

    def tables(self, given: Mapping[str, Any], name: str, keys: Sequence[str]) -> list[Mapping[str, Any]]:
        found = given.get(name, [])
        if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
            self.wrong.append(f"{name}: write each as [[{name}]]")
            return []
        for entry in found:
            self.wrong.extend(
                f"{name}: no key is called {key!r}; known: {', '.join(keys)}" for key in entry if key not in keys
            )
        return found


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
