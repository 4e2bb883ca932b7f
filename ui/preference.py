"""Units of a person: chosen once, kept in that person's settings folder, used on every page."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from platformdirs import user_config_path

from graph.errors import UsageError
from graph.quantity import Quantity
from ui.format import CHOICES

#: What may be chosen -> its name in the file.
NAMES: Mapping[Quantity, str] = {
    Quantity.POWER: "power",
    Quantity.GAUGE_PRESSURE: "boost",
    Quantity.TORQUE: "torque",
}


def file_of(person: str) -> Path:
    """File with the choices of a person, by a name that is safe in a folder."""
    plain = re.sub(r"[^A-Za-z0-9_.@-]", "_", person).lstrip(".") or "person"
    return user_config_path("pinchpoint") / f"units of {plain[:80]}.toml"


def read_units(person: str) -> dict[Quantity, str]:
    """Units that a person chose; what is missing, unknown or unreadable keeps its usual unit.

    Parameters
    ----------
    person : str
        Name of the person.

    Returns
    -------
    dict of Quantity to str
        Only units that :data:`ui.format.CHOICES` offers.
    """
    try:
        read = tomllib.loads(file_of(person).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}
    return {q: read[name] for q, name in NAMES.items() if read.get(name) in CHOICES[q]}


def write_units(person: str, units: Mapping[Quantity, str]) -> None:
    """Keep the units of a person.

    Parameters
    ----------
    person : str
        Name of the person.
    units : mapping of Quantity to str
        As chosen.

    Raises
    ------
    UsageError
        A unit that is not offered, or a folder that cannot be written.
    """
    for quantity, name in units.items():
        if name not in CHOICES.get(quantity, {}):
            raise UsageError(f"{quantity.value}: found {name!r}; offered are {', '.join(CHOICES.get(quantity, {}))}")
    file = file_of(person)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("".join(f'{NAMES[q]} = "{name}"\n' for q, name in units.items()), encoding="utf-8")
    except OSError as error:
        raise UsageError(f"your units cannot be kept in {file}: {error.strerror}") from error
