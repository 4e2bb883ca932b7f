"""Standing cautions, printed with the work they belong to. Local rules and licensed practice come first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from graph.limit import Kind

CAUTIONS: Mapping[str, str] = MappingProxyType(
    {
        "F": "Fuel and fire: cold engine, no source of ignition, rag and extinguisher at hand, fumes led away.",
        "J": "Fuel under high pressure goes through skin and gloves: relieve the rail by the maker's procedure, check it "
        "by sensor and gauge, wait. A suspected injection is an emergency even without pain.",
        "H": "Hot parts: let exhaust, turbocharger and coolant cool down before work.",
        "R": "Turning parts and rollers: strap the car, check the tyres, nobody in line, stop word agreed.",
        "B": "Brakes and tyres belong to every power quote above the highest factory power.",
        "L": "Emissions and roadworthiness: not checked for your country; ask the authority or a licensed examiner.",
        "I": "Insurance: declare the change before driving; not checked for your country.",
        "E": "Electrical load: right cable section and fuse, battery plan before work.",
        "T": "Vapour when the tank is open: air the cabin, no switch and no lamp in reach.",
    }
)


def cautions(kinds: Iterable[Kind]) -> tuple[str, ...]:
    """The cautions that belong to work on some kinds of part, each once, in a fixed order."""
    codes = {code for kind in kinds for code in kind.cautions}
    return tuple(text for code, text in CAUTIONS.items() if code in codes)
