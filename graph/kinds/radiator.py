"""Radiator and fan: coolant heat over time."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import heat
from graph.quantity import Quantity

KIND = Kind(
    name="radiator",
    label="radiator",
    area="Cooling",
    does="gives the heat of the coolant to the air",
    synonyms=(
        "cooling",
        "kuehler",
    ),
    ratings=(
        RatingSpec(
            name="conductance",
            quantity=Quantity.THERMAL_CONDUCTANCE,
            label="heat per kelvin between fluid and air",
            plausible=(300.0, 15000.0),
        ),
        RatingSpec(
            name="coolant temperature",
            quantity=Quantity.TEMPERATURE,
            label="highest coolant temperature",
            plausible=(353.15, 443.15),
            required=False,
            default=388.15,
            default_source="coolant at most 115 degC (shop rule)",
        ),
        RatingSpec(
            name="time constant",
            quantity=Quantity.DURATION,
            label="time constant of the circuit",
            plausible=(20.0, 7200.0),
            required=False,
            default=300.0,
            default_source="warming seen in endurance logs; assumption",
        ),
    ),
    limits=(
        LimitRule(
            name="heat through the radiator over time",
            rating="conductance",
            axis=Axis.HEAT,
            quantity=Quantity.POWER,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: heat.stored(op.coolant_heat, setting.duration, own.value("time constant")),
            capacity=lambda op, setting, own: heat.rejected(
                own.value("conductance"), own.value("coolant temperature"), setting.weather.temperature
            ),
            why="a pull is carried by the thermal mass, a session by the cooler",
            consequence="coolant temperature climbs lap by lap",
            source="heat balance; shares of fuel heat to coolant 18 % and oil 5 % (published balances: 15 to 22 % together)",
        ),
    ),
    cautions=("H",),
)
