"""Throttle flap: load on the plate when it shuts under boost."""

from graph.limit import Axis, ConditionSpec, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import throttle
from graph.quantity import Quantity

KIND = Kind(
    name="throttle",
    label="throttle",
    area="Air",
    does="is the flap that lets the air into the engine",
    synonyms=(
        "throttle flap",
        "throttle body",
        "drosselklappe",
    ),
    ratings=(
        RatingSpec(
            name="boost",
            quantity=Quantity.GAUGE_PRESSURE,
            label="highest boost, stated at sea level",
            plausible=(0.4e5, 10.0e5),
            conditions=(ConditionSpec(name="temperature", quantity=Quantity.TEMPERATURE, default=373.15),),
        ),
    ),
    limits=(
        LimitRule(
            name="pressure across the throttle plate",
            rating="boost",
            axis=Axis.BOOST,
            quantity=Quantity.PRESSURE_DIFFERENCE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: throttle.plate_pressure(op.boost_pressure),
            capacity=lambda op, setting, own: throttle.rated_plate_pressure(own.value("boost")),
            why="on lift-off at full boost the plate shuts against the absolute pressure before it",
            consequence="a bent or broken plate, flap angle unlike its command, pieces in the intake",
            source="force balance of the plate; failures seen",
        ),
    ),
)
