"""Names in the RDF view: one namespace of our own for limits and relations, public ones for everything else.

References
----------
QUDT.org, QUDT ontologies 2.1: quantity kinds, units and their names; names of units and kinds that are not in use
elsewhere are from memory. BIPM, The International System of Units (SI Brochure), 9th edition, 2019, and NIST Special
Publication 811, 2008, appendix B: the factors.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from urllib.parse import quote, unquote

from rdflib import Graph, Literal, Namespace, URIRef
from rdflib.namespace import DCTERMS, PROV, RDF, RDFS, SDO, SKOS, SOSA, XSD

from graph.errors import OutOfRange
from graph.quantity import Quantity

NS = Namespace("https://w3id.org/pinchpoint/ns#")
KIND = Namespace("https://w3id.org/pinchpoint/kind#")
WORD = Namespace("https://w3id.org/pinchpoint/word#")
QUDT = Namespace("http://qudt.org/schema/qudt/")
QUANTITY_KIND = Namespace("http://qudt.org/vocab/quantitykind/")
UNIT = Namespace("http://qudt.org/vocab/unit/")
BASE = "urn:pinchpoint:"


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitTerm:
    """A unit of another vocabulary.

    Parameters
    ----------
    iri : URIRef
        Its name.
    factor : float
        SI value of one such unit [SI unit of the quantity].
    offset : float
        SI value of its zero [SI unit of the quantity].
    """

    iri: URIRef
    factor: float = 1.0
    offset: float = 0.0


def _units(*rows: tuple[str, float] | tuple[str, float, float] | str) -> tuple[UnitTerm, ...]:
    made = []
    for row in rows:
        name, factor, offset = (row, 1.0, 0.0) if isinstance(row, str) else (*row, 0.0)[:3]
        made.append(UnitTerm(iri=NS[name[1:]] if name.startswith("!") else UNIT[name], factor=factor, offset=offset))
    return tuple(made)


_G = 9.80665
_POUND = 0.45359237
_FOOT = 0.3048
_PSI = _POUND * _G / 0.0254**2
_PRESSURES = _units(
    "PA", ("HectoPA", 1e2), ("KiloPA", 1e3), ("MegaPA", 1e6), ("MilliBAR", 1e2), ("BAR", 1e5), ("PSI", _PSI),
    ("ATM", 101325.0),
)  # fmt: skip
_SINGLES = _units("UNITLESS", ("PERCENT", 0.01))

#: Quantity -> (quantity kind, units that are read; the first, in SI, is the one that is written).
QUANTITIES: Mapping[Quantity, tuple[URIRef, tuple[UnitTerm, ...]]] = MappingProxyType(
    {
        Quantity.ABSOLUTE_PRESSURE: (QUANTITY_KIND.AbsolutePressure, _PRESSURES),
        Quantity.GAUGE_PRESSURE: (QUANTITY_KIND.GaugePressure, _PRESSURES),
        Quantity.PRESSURE_DIFFERENCE: (QUANTITY_KIND.Pressure, _PRESSURES),
        Quantity.TEMPERATURE: (
            QUANTITY_KIND.Temperature,
            _units("K", ("DEG_C", 1.0, 273.15), ("DEG_F", 5.0 / 9.0, 273.15 - 160.0 / 9.0)),
        ),
        Quantity.TEMPERATURE_DIFFERENCE: (QUANTITY_KIND.TemperatureDifference, _units("K")),
        Quantity.MASS_FLOW: (
            QUANTITY_KIND.MassFlowRate,
            _units(
                "KiloGM-PER-SEC", ("GM-PER-SEC", 1e-3), ("KiloGM-PER-HR", 1.0 / 3600.0), ("LB-PER-MIN", _POUND / 60.0)
            ),
        ),
        Quantity.VOLUME_FLOW: (
            QUANTITY_KIND.VolumeFlowRate,
            _units(
                "M3-PER-SEC", ("L-PER-HR", 1e-3 / 3600.0), ("L-PER-MIN", 1e-3 / 60.0), ("CentiM3-PER-MIN", 1e-6 / 60.0)
            ),
        ),
        Quantity.VOLUME: (QUANTITY_KIND.Volume, _units("M3", ("L", 1e-3), ("CentiM3", 1e-6), ("MilliM3", 1e-9))),
        Quantity.TORQUE: (
            QUANTITY_KIND.Torque,
            _units("N-M", ("LB_F-FT", _POUND * _G * _FOOT), ("KiloGM_F-M", _G)),
        ),
        Quantity.FORCE: (QUANTITY_KIND.Force, _units("N", ("KiloN", 1e3), ("LB_F", _POUND * _G))),
        Quantity.POWER: (
            QUANTITY_KIND.Power,
            _units("W", ("KiloW", 1e3), ("HP", 550.0 * _FOOT * _POUND * _G), ("HP_Metric", 75.0 * _G)),
        ),
        Quantity.ROTATIONAL_SPEED: (
            QUANTITY_KIND.AngularVelocity,
            _units("REV-PER-SEC", ("REV-PER-MIN", 1.0 / 60.0)),
        ),
        Quantity.VOLTAGE: (QUANTITY_KIND.Voltage, _units("V", ("MilliV", 1e-3), ("KiloV", 1e3))),
        Quantity.CURRENT: (QUANTITY_KIND.ElectricCurrent, _units("A", ("MilliA", 1e-3))),
        Quantity.ENERGY: (QUANTITY_KIND.Energy, _units("J", ("MilliJ", 1e-3))),
        Quantity.LENGTH: (
            QUANTITY_KIND.Length,
            _units("M", ("MilliM", 1e-3), ("CentiM", 1e-2), ("MicroM", 1e-6), ("IN", 0.0254)),
        ),
        Quantity.DISTANCE: (QUANTITY_KIND.Distance, _units("M", ("KiloM", 1e3))),
        Quantity.AREA: (QUANTITY_KIND.Area, _units("M2", ("CentiM2", 1e-4), ("MilliM2", 1e-6))),
        Quantity.MASS: (QUANTITY_KIND.Mass, _units("KiloGM", ("GM", 1e-3), ("LB", _POUND))),
        Quantity.DENSITY: (QUANTITY_KIND.Density, _units("KiloGM-PER-M3", ("GM-PER-CentiM3", 1e3))),
        Quantity.DURATION: (
            QUANTITY_KIND.Time,
            _units("SEC", ("MilliSEC", 1e-3), ("MIN", 60.0), ("HR", 3600.0), ("DAY", 86400.0), ("WK", 604800.0)),
        ),
        Quantity.ANGLE: (QUANTITY_KIND.PlaneAngle, _units("RAD", ("DEG", 3.141592653589793 / 180.0))),
        # QUDT has neither the quantity kind nor the unit of a turbine's flow parameter.
        Quantity.FLOW_PARAMETER: (NS.FlowParameter, _units("!kilogramRootKelvinPerSecondPascal")),
        Quantity.THERMAL_CONDUCTANCE: (QUANTITY_KIND.ThermalConductance, _units("W-PER-K", ("KiloW-PER-K", 1e3))),
        Quantity.RATIO: (QUANTITY_KIND.DimensionlessRatio, _SINGLES),
        Quantity.PRESSURE_RATIO: (QUANTITY_KIND.PressureRatio, _SINGLES[:1]),
        Quantity.OCTANE_NUMBER: (QUANTITY_KIND.Dimensionless, _SINGLES[:1]),
        Quantity.COUNT: (QUANTITY_KIND.Count, _units("NUM", "UNITLESS")),
    }
)

#: Our own terms: what each means. Classes begin with a capital.
TERMS: Mapping[str, str] = MappingProxyType(
    {
        "Rating": "A stated limit or property of a part, with its condition and its evidence.",
        "Limit": "A rule that compares what the engine asks of a part with what a rating lets it carry.",
        "Relation": "A statement of one part about others, or about a rating that a place must reach.",
        "Platform": "A car model as it leaves the factory.",
        "FlowParameter": "Mass flow times the root of temperature over pressure, at the inlet of a turbine.",
        "kilogramRootKelvinPerSecondPascal": "Unit of a flow parameter: kilogram root kelvin per second and pascal.",
        "rating": "A part states this rating.",
        "states": "A rating states this property of its part kind.",
        "point": "One point of a rating or property that is a curve.",
        "at": "The quantity over which a curve stands, at one of its points, in its SI unit.",
        "condition": "A condition at which a rating holds.",
        "assumed": "The sheet was silent and the usual value was taken.",
        "meaning": "What a stated rating says about the true capacity.",
        "knownBy": "How a number is known.",
        "limitedBy": "Parts of this kind are stopped by this limit.",
        "onAxis": "The quantity along which a limit lives.",
        "limitKind": "What happens at a limit.",
        "consequence": "What happens when a limit is overrun.",
        "feeds": "Parts of this kind determine this input of the engine's state or of another limit.",
        "needs": "A limit needs this input.",
        "drives": "Parts of this kind turn parts of that kind.",
        "fits": "A part fits cars with this code.",
        "codes": "All codes in the order in which they are stated.",
        "hasCode": "A platform or car has this code.",
        "statement": "A part makes this statement about others.",
        "relationKind": "What a statement says.",
        "about": "The part that a statement is about.",
        "aboutKind": "The kind of part of which a rating is required.",
        "atLeast": "The value that a rating must reach, in its SI unit.",
        "requires": "Fitting this part brings the other along.",
        "couldBeMetBy": "A requirement that is met otherwise could also be met by this part.",
        "excludes": "The two parts cannot be on one car.",
        "supersedes": "The part takes the place of an older one.",
        "adapts": "The part makes the other one fit.",
        "includes": "The other part comes in the same box.",
        "interface": "A port of a part.",
        "portType": "What fits a port.",
        "slot": "A place on a platform.",
        "takes": "A place takes parts of this kind.",
        "pieces": "Identical parts that work in parallel in a place.",
        "onlyWith": "A place exists only on cars with this code.",
        "factoryPart": "A place leaves the factory with this part.",
        "fills": "A part can be fitted in this place.",
        "constant": "A named constant of a platform.",
        "curve": "A property of a platform over engine speed.",
        "builtOn": "A car is of this platform.",
        "installed": "What is, or is said to be, in one place of a car.",
        "fitted": "The part that is in a place.",
        "belief": "How well it is known that a part is on the car.",
    }
)

PREFIXES: Mapping[str, str] = MappingProxyType(
    {
        "pp": str(NS), "kind": str(KIND), "word": str(WORD), "qudt": str(QUDT), "unit": str(UNIT),
        "quantitykind": str(QUANTITY_KIND), "schema": str(SDO), "prov": str(PROV), "sosa": str(SOSA),
        "skos": str(SKOS), "dcterms": str(DCTERMS), "rdf": str(RDF), "rdfs": str(RDFS), "xsd": str(XSD),
    }
)  # fmt: skip


def bind(graph: Graph, base: str = BASE) -> Graph:
    """Give a graph the prefixes of :data:`PREFIXES` and those of the records."""
    for prefix, namespace in PREFIXES.items():
        graph.bind(prefix, namespace, override=True, replace=True)
    for what in ("part", "code", "platform", "car", "rating"):
        graph.bind(what, f"{base}{what}:", override=True, replace=True)
    return graph


def own_word(text: str) -> str:
    """A term of several words as the last piece of an IRI: ``own bench`` as ``own-bench``."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def named(base: str, what: str, name: str) -> URIRef:
    """IRI of a record."""
    return URIRef(f"{base}{what}:{quote(name, safe='')}")


def name_of(iri: object) -> str:
    """Name in an IRI of :func:`named`."""
    return unquote(str(iri).rpartition(":")[2])


def hashed(base: str, what: str, name: str, content: object) -> URIRef:
    """IRI of something that is the same only where all that it says is the same."""
    digest = hashlib.sha256(repr(content).encode()).hexdigest()[:16]
    return URIRef(f"{base}{what}:{quote(name, safe='')}.{digest}")


def exact(value: float) -> Literal:
    """A decimal that reads back as the very same number; doubles lose digits in Turtle."""
    return Literal(format(Decimal(repr(float(value))), "f"), datatype=XSD.decimal)


def to_si(value: float, unit: URIRef | None, quantity: Quantity) -> float:
    """A number in a unit of :data:`QUANTITIES` as an SI value.

    Parameters
    ----------
    value : float
        The number [unit].
    unit : URIRef or None
        None for the SI unit.
    quantity : Quantity
        What is measured.

    Returns
    -------
    float
        [SI unit of the quantity]

    Raises
    ------
    OutOfRange
        The unit does not measure the quantity.

    Examples
    --------
    >>> to_si(2.2, UNIT.BAR, Quantity.GAUGE_PRESSURE)
    220000.00000000003
    """
    known = QUANTITIES[quantity][1]
    for term in known:
        if unit is None or term.iri == unit:
            return value if term is known[0] else value * term.factor + term.offset
    names = ", ".join(str(term.iri).rpartition("/")[2] for term in known)
    raise OutOfRange(quantity.label, f"the unit {unit}", names, "use one of these units")
