"""Supply lines: pressure loss grows with flow squared."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pump
from graph.quantity import Quantity

KIND = Kind(
    name="fuel_line",
    label="lines",
    area="Fuel",
    does="carry the fuel to the engine",
    synonyms=(
        "fuel lines",
        "supply line",
        "fuel line",
        "kraftstoffleitung",
    ),
    ratings=(
        RatingSpec(
            name="flow",
            quantity=Quantity.VOLUME_FLOW,
            label="flow at the stated pressure drop",
            plausible=(8.0e-6, 4.0e-4),
            conditions=(ConditionSpec(name="pressure drop", quantity=Quantity.PRESSURE_DIFFERENCE, default=0.6e5),),
        ),
    ),
    limits=(
        LimitRule(
            name="fuel per hour through the lines",
            rating="flow",
            axis=Axis.FUEL_PER_HOUR,
            quantity=Quantity.VOLUME_FLOW,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: pump.volume_flow(
                op.fuel_flow, setting.fuel.density, setting.constant("jet pump flow")
            ),
            capacity=lambda op, setting, own: own.value("flow"),
            why="pressure lost in the line is missing at the engine",
            consequence="low-side pressure at the engine lies below that at the tank",
            source="loss grows about with flow squared (White, Fluid Mechanics, ch. 6, from memory)",
        ),
    ),
    links=(
        Feed(parameter="line flow", value=lambda own, setting: own.value("flow")),
        Feed(parameter="line drop", value=lambda own, setting: own.condition("flow", "pressure drop")),
    ),
    cautions=("F",),
)
