"""Fuel filter: flow at a pressure drop, less as it ages."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pump
from graph.quantity import Quantity

KIND = Kind(
    name="fuel_filter",
    label="filter",
    area="Fuel",
    does="keeps dirt out of the fuel system",
    synonyms=(
        "fuel filter",
        "in-tank filter",
        "kraftstofffilter",
    ),
    ratings=(
        RatingSpec(
            name="flow",
            quantity=Quantity.VOLUME_FLOW,
            label="flow at the stated pressure drop, over distance run",
            plausible=(8.0e-6, 4.0e-4),
            conditions=(ConditionSpec(name="pressure drop", quantity=Quantity.PRESSURE_DIFFERENCE, default=0.3e5),),
            over=Quantity.DISTANCE,
        ),
    ),
    limits=(
        LimitRule(
            name="fuel per hour through the filter",
            rating="flow",
            axis=Axis.FUEL_PER_HOUR,
            quantity=Quantity.VOLUME_FLOW,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: pump.volume_flow(
                op.fuel_flow, setting.fuel.density, setting.constant("jet pump flow")
            ),
            capacity=lambda op, setting, own: own.value("flow", at=setting.distance),
            why="a used element passes less",
            consequence="slow loss over months, worse at low tank level",
            source="flow of new and used elements on a bench",
        ),
    ),
    links=(
        Feed(parameter="filter flow", value=lambda own, setting: own.value("flow", at=setting.distance)),
        Feed(parameter="filter drop", value=lambda own, setting: own.condition("flow", "pressure drop")),
    ),
    cautions=(
        "F",
        "T",
    ),
)
