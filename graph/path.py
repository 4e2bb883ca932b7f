"""What air and exhaust pass on their way: the path of a configuration, and the reference state that is adequate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from types import MappingProxyType

import numpy as np

from graph.model import Array
from graph.physics import pipe

#: Reference state: what is adequate, so that one slot can be judged alone.
REFERENCE_FLOW = 0.30
REFERENCE_EXHAUST_FLOW = 0.32
REFERENCE_CHARGE_DENSITY = 2.5
REFERENCE_EXHAUST_DENSITY = 0.35
REFERENCE_BACK_PRESSURE = 1.05
#: Fall of the cooler's transfer units with flow: exponent 0.2 to 0.5 (assumption).
COOLER_EXPONENT = 0.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """What air and exhaust pass, and what the spark must respect; each field broadcasts against the batch.

    Parameters
    ----------
    box_loss, pipe_loss, cooler_loss, catalyst_loss, silencer_loss : array
        Loss coefficients c in dp = c m^2 / density [1/m4].
    compressor_efficiency : array
        Total to total; of a map the highest [1].
    map_flow, map_ratio, map_flow_fall, map_cross, map_ratio_fall : array
        Where a map's efficiency is highest, corrected [kg/s] and root of the pressure ratio [1], and how it falls away
        from there [1]; all falls 0 for one efficiency everywhere.
    map_temperature, map_pressure : array
        Reference state of the map [K], absolute [Pa].
    cooler_effectiveness, cooler_flow, cooler_exponent : array
        Effectiveness [1] at a flow [kg/s], and the fall of its transfer units with flow [1].
    cooler_soak : array
        Warming of the cooler's cold side per heat taken up, at the time asked [K/W].
    turbine_given : array
        1 where a real turbine drives the compressor, 0 for the reference back pressure.
    turbine_flow, gate_area, turbine_efficiency : array
        Flow parameter [kg.K^0.5/(s.Pa)], area of the open gate [m2], efficiency [1].
    peak_pressure : array
        Mean peak pressure that the spark respects [Pa].
    breathing : array
        Factor on volumetric efficiency [1].
    octane_shift : array
        Added to the octane index [1].
    mist_share, mist_methanol : array
        Mass of water and methanol sprayed in per mass of fuel, and the methanol's share of it [1].
    knock_gain, friction_gain : array
        Factors on the ignition delay and on the friction of the platform [1]: uncertainty of the model.
    """

    box_loss: Array | float = 2000.0 * pipe.REFERENCE_DENSITY / REFERENCE_FLOW**2
    pipe_loss: Array | float = 1000.0 * pipe.REFERENCE_DENSITY / REFERENCE_FLOW**2
    compressor_efficiency: Array | float = 0.72
    map_flow: Array | float = 1.0
    map_ratio: Array | float = 1.0
    map_flow_fall: Array | float = 0.0
    map_cross: Array | float = 0.0
    map_ratio_fall: Array | float = 0.0
    map_temperature: Array | float = 298.15
    map_pressure: Array | float = 1.0e5
    cooler_effectiveness: Array | float = 0.80
    cooler_flow: Array | float = REFERENCE_FLOW
    cooler_exponent: Array | float = 0.0
    cooler_soak: Array | float = 0.0
    cooler_loss: Array | float = 10.0e3 * REFERENCE_CHARGE_DENSITY / REFERENCE_FLOW**2
    turbine_given: Array | float = 0.0
    turbine_flow: Array | float = 3.0e-5
    gate_area: Array | float = 4.0e-4
    turbine_efficiency: Array | float = 0.65
    catalyst_loss: Array | float = 20.0e3 * REFERENCE_EXHAUST_DENSITY / REFERENCE_EXHAUST_FLOW**2
    silencer_loss: Array | float = 10.0e3 * REFERENCE_EXHAUST_DENSITY / REFERENCE_EXHAUST_FLOW**2
    peak_pressure: Array | float = 3.0e7
    breathing: Array | float = 1.0
    octane_shift: Array | float = 0.0
    mist_share: Array | float = 0.0
    mist_methanol: Array | float = 0.0
    knock_gain: Array | float = 1.0
    friction_gain: Array | float = 1.0


#: Uncertain parameters of the model, drawn once per sample and shared by every limit: path field -> (relative
#: standard deviation [1], why). After a calibration the phasing is taken as good to
#: 3 degrees nineteen times in twenty; a degree is 3 to 6 % in delay, so 8 % is one standard deviation.
MODEL_SPREAD: Mapping[str, tuple[float, str]] = MappingProxyType(
    {
        "knock_gain": (0.08, "phasing after calibration within 3 degrees, 19 times in 20 (assumption)"),
        "friction_gain": (0.10, "friction of the Chen and Flynn form (assumption)"),
        "breathing": (0.015, "volumetric efficiency from own dyno (assumption)"),
    }
)
PATH_FIELDS = tuple(f.name for f in fields(Path))
REFERENCE = Path()
REFERENCE_WORDS = (
    "compressor efficiency 0.72",
    "charge cooler effectiveness 0.80 and loss 10 kPa at 0.30 kg/s",
    "inlet loss 3 kPa at 0.30 kg/s (box 2, pipe 1)",
    "pressure before the turbine 1.05 times the manifold pressure",
    "exhaust loss 30 kPa at 0.32 kg/s (catalyst 20, silencer 10)",
)


def stack_paths(paths: Sequence[Mapping[str, Array | float] | Mapping[str, float]]) -> Path:
    """Put configurations side by side on a batch axis.

    Parameters
    ----------
    paths : list of mapping
        For each configuration the fields of :class:`Path` that differ from the reference [SI].

    Returns
    -------
    Path
        Every field of shape (configurations, 1, 1).
    """
    columns = {
        name: np.array([float(np.asarray(p.get(name, getattr(REFERENCE, name)))) for p in paths])[:, None, None]
        for name in PATH_FIELDS
    }
    return Path(**columns)
