"""Wastegate actuator: the boost that it can hold shut against."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pressure
from graph.quantity import Quantity

KIND = Kind(
    name="wastegate",
    label="wastegate",
    area="Exhaust",
    does="lets exhaust gas pass by the turbine to hold the boost",
    synonyms=(
        "wastegate actuator",
        "actuator",
        "wastegatesteller",
    ),
    ratings=(
        RatingSpec(
            name="boost held",
            quantity=Quantity.GAUGE_PRESSURE,
            label="boost up to which it keeps the gate shut",
            plausible=(0.3e5, 6.0e5),
            conditions=(ConditionSpec(name="preload", quantity=Quantity.LENGTH, default=0.003),),
        ),
        RatingSpec(
            name="overshoot",
            quantity=Quantity.RATIO,
            label="peak of the boost over its steady value when it arrives, less 1",
            plausible=(0.0, 0.4),
            required=False,
            default=0.10,
            default_source="10 to 15 % with closed-loop control, the lower end (trade, from memory)",
        ),
    ),
    links=(Feed(parameter="boost overshoot", value=lambda own, setting: own.value("overshoot")),),
    limits=(
        LimitRule(
            name="boost that the actuator holds",
            rating="boost held",
            axis=Axis.BOOST,
            quantity=Quantity.GAUGE_PRESSURE,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: pressure.gauge(op.boost_pressure, setting.weather.pressure),
            capacity=lambda op, setting, own: own.value("boost held"),
            why="beyond it the exhaust pushes the gate open",
            consequence="boost falls at high speed although the gate is told to shut",
            source="force balance of spring, boost and exhaust pressure; own test",
        ),
    ),
    cautions=("H",),
)
