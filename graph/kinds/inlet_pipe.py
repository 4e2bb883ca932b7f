"""Pipe between air box and compressor: it collapses or strangles."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pipe
from graph.quantity import Quantity

KIND = Kind(
    name="inlet_pipe",
    label="inlet pipe",
    area="Air",
    does="leads the air to the turbocharger",
    synonyms=(
        "intake pipe",
        "ansaugrohr",
    ),
    ratings=(
        RatingSpec(
            name="air flow",
            quantity=Quantity.MASS_FLOW,
            label="air flow at the stated depression",
            plausible=(0.05, 1.5),
            conditions=(ConditionSpec(name="pressure drop", quantity=Quantity.PRESSURE_DIFFERENCE, default=2000.0),),
        ),
    ),
    limits=(
        LimitRule(
            name="air flow through the inlet pipe",
            rating="air flow",
            axis=Axis.MASS_FLOW,
            quantity=Quantity.MASS_FLOW,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: pipe.equivalent_flow(
                op.air_flow, pipe.gas_density(setting.weather.pressure, setting.weather.temperature)
            ),
            capacity=lambda op, setting, own: own.value("air flow"),
            why="a soft pipe ovals under its own depression",
            consequence="sudden loss near the top, trim jumps",
            source="loss grows as flow squared over density (White, ch. 6, from memory)",
            costs_power_only=True,
        ),
    ),
    feeds=(
        Feed(
            parameter="pipe_loss",
            value=lambda own, setting: pipe.loss_coefficient(
                own.condition("air flow", "pressure drop"), own.value("air flow"), pipe.REFERENCE_DENSITY
            ),
        ),
    ),
)
