"""Oil cooler: oil heat over time."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import heat
from graph.quantity import Quantity

KIND = Kind(
    name="oil_cooler",
    label="oil cooler",
    area="Cooling",
    does="gives the heat of the oil to the air",
    synonyms=("oelkuehler",),
    ratings=(
        RatingSpec(
            name="conductance",
            quantity=Quantity.THERMAL_CONDUCTANCE,
            label="heat per kelvin between fluid and air",
            plausible=(80.0, 4000.0),
        ),
        RatingSpec(
            name="oil temperature",
            quantity=Quantity.TEMPERATURE,
            label="highest oil temperature",
            plausible=(353.15, 443.15),
            required=False,
            default=403.15,
            default_source="oil at most 130 degC (shop rule)",
        ),
        RatingSpec(
            name="time constant",
            quantity=Quantity.DURATION,
            label="time constant of the circuit",
            plausible=(20.0, 7200.0),
            required=False,
            default=400.0,
            default_source="warming seen in endurance logs; assumption",
        ),
    ),
    limits=(
        LimitRule(
            name="heat through the oil cooler over time",
            rating="conductance",
            axis=Axis.HEAT,
            quantity=Quantity.POWER,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: heat.stored(op.oil_heat, setting.duration, own.value("time constant")),
            capacity=lambda op, setting, own: heat.rejected(
                own.value("conductance"), own.value("oil temperature"), setting.weather.temperature
            ),
            why="a pull is carried by the thermal mass, a session by the cooler",
            consequence="oil temperature climbs lap by lap",
            source="heat balance; shares of fuel heat to coolant 18 % and oil 5 % (published balances: 15 to 22 % together)",
        ),
    ),
    cautions=("H",),
)
