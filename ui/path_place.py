"""The paths of air, fuel, torque, exhaust and heat: which places lie on each, in the order of the flow, how wide each is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from graph.kinds import discover
from graph.report import Finding, Report, Verdict
from ui.format import NOT_KNOWN, kilowatts, percent, power_unit

#: Path -> the areas of the parts book that lie on it.
AREAS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Air": ("Air",),
        "Fuel": ("Fuel",),
        "Spark and torque": ("Engine", "Drive"),
        "Exhaust": ("Exhaust",),
        "Heat and brakes": ("Cooling", "Chassis", "Control"),
    }
)
#: Order in which the flow meets the parts; a kind that is not named comes after those that are.
ORDER = (
    *("air_box", "air_flow_meter", "inlet_pipe", "compressor", "intercooler", "charge_pipe", "throttle"),
    *("pressure_sensor", "intake_manifold", "pump_wiring", "pump_controller", "pump_heat_plate", "tank_pump"),
    *("fuel_filter", "fuel_line", "high_pressure_pump", "follower", "rail", "injectors", "port_injection"),
    *("fuel_grade", "ethanol_sensor", "coils", "plugs", "valves", "pistons", "head_clamp", "rods", "clutch"),
    *("packs", "gears", "driveshafts", "exhaust_manifold", "wastegate", "turbine", "catalyst", "silencer"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One place on a path.

    Parameters
    ----------
    slot : str
        Its name.
    width : float or None
        What it carries over what the target needs [1]; None where that is not known.
    text : str
        Share of the limit used, or the power that passes, or that it is not known.
    verdict : Verdict
        Of the limit that is used most.
    first : bool
        True for the weakest of the whole car.
    """

    slot: str
    width: float | None
    text: str
    verdict: Verdict
    first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """One path with its places in the order of the flow."""

    name: str
    places: tuple[Station, ...]
    narrowest: str = ""

    @property
    def sentence(self) -> str:
        """The path in words, for those who do not see it."""
        return f"{self.name}: " + ", ".join(f"{p.slot} {p.text}" for p in self.places)


def gather_paths(report: Report) -> tuple[Path, ...]:
    """Sort the limits of a check into paths.

    Parameters
    ----------
    report : Report
        Of a check.

    Returns
    -------
    tuple of Path
        Only paths with a place that is judged or not known.
    """
    kinds = discover()
    worst: dict[str, Finding] = {}
    for f in report.findings:
        before = worst.get(f.slot)
        if before is None or _pressed(f, report.target.power) > _pressed(before, report.target.power):
            worst[f.slot] = f
    unknown = {u.slot for u in report.unknown}
    found: dict[str, list[tuple[int, Station]]] = {name: [] for name in AREAS}
    for place in report.build.places:
        kind, name = kinds.get(place.slot.kind), place.slot.name
        path = next((p for p, areas in AREAS.items() if kind is not None and kind.area in areas), None)
        finding = worst.get(name)
        if path is None or (finding is None and name not in unknown):
            continue
        if finding is None or name in unknown:
            width, text, verdict = None, f"? {NOT_KNOWN}", Verdict.UNKNOWN
        else:
            width, text = _width_of(finding, report.target.power)
            verdict = finding.verdict
            text = text or f"> {kilowatts(report.engine_alone)} {power_unit()}"  # not passed where the engine ends
        first = report.weakest is not None and report.weakest.slot == name
        order = ORDER.index(place.slot.kind) if place.slot.kind in ORDER else len(ORDER)
        found[path].append((order, Station(slot=name, width=width, text=text, verdict=verdict, first=first)))
    weakest = report.weakest
    said = (
        ""
        if weakest is None
        else f"narrowest: lets {kilowatts(weakest.ceiling)} of {kilowatts(report.target.power)} {power_unit()} pass"
    )
    return tuple(
        Path(
            name=name,
            places=tuple(s for _, s in sorted(rows, key=lambda row: row[0])),
            narrowest=said if any(s.first for _, s in rows) else "",
        )
        for name, rows in found.items()
        if rows
    )


def _pressed(finding: Finding, power: float) -> float:
    """How far a limit is used, for comparing the limits of one place [1]."""
    width, _ = _width_of(finding, power)
    return 0.0 if width is None else 1.0 / width


def _width_of(finding: Finding, power: float) -> tuple[float | None, str]:
    """How wide a place is, and what is said of it; without an operating point at the target the power that passes."""
    if finding.utilisation is not None:
        return 1.0 / max(finding.utilisation, 1e-6), percent(finding.utilisation)
    if finding.ceiling is not None:
        return finding.ceiling / power, f"{kilowatts(finding.ceiling)} {power_unit()}"
    return None, ""
