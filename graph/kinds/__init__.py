"""One file per part kind; each holds one constant ``KIND``. Found by looking, not by registering."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from graph.errors import MissingRecord
from graph.limit import Kind


@cache
def discover(package: str = "graph.kinds") -> Mapping[str, Kind]:
    """Every part kind of a package, by name.

    Parameters
    ----------
    package : str
        Import name of a package whose modules hold one ``KIND`` each.

    Returns
    -------
    mapping of str to Kind
        In the order of the module names.

    Raises
    ------
    MissingRecord
        A module holds no ``KIND``, or one whose name is not the module's.
    """
    module = importlib.import_module(package)
    found: dict[str, Kind] = {}
    for info in sorted(pkgutil.iter_modules(module.__path__), key=lambda i: i.name):
        member = importlib.import_module(f"{package}.{info.name}")
        kind = getattr(member, "KIND", None)
        if not isinstance(kind, Kind):
            raise MissingRecord(f"{package}.{info.name} holds no constant KIND of type Kind")
        if kind.name != info.name:
            raise MissingRecord(f"{package}.{info.name}: KIND is named {kind.name!r}, it must bear the module's name")
        found[kind.name] = kind
    return MappingProxyType(found)
