"""Air filter and its box: what the compressor must suck through."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pipe
from graph.quantity import Quantity

KIND = Kind(
    name="air_box",
    label="air box",
    area="Air",
    does="cleans the air that the engine breathes",
    synonyms=("filter box", "air filter", "airbox", "luftfilter", "luftfilterkasten"),
    ratings=(
        RatingSpec(
            name="air flow",
            quantity=Quantity.MASS_FLOW,
            label="air flow at the stated depression",
            plausible=(0.05, 1.5),
            conditions=(ConditionSpec(name="pressure drop", quantity=Quantity.PRESSURE_DIFFERENCE, default=4000.0),),
        ),
    ),
    feeds=(
        Feed(
            parameter="box_loss",
            value=lambda own, setting: pipe.loss_coefficient(
                own.condition("air flow", "pressure drop"), own.value("air flow"), pipe.REFERENCE_DENSITY
            ),
        ),
    ),
    limits=(
        LimitRule(
            name="air flow through filter and box",
            rating="air flow",
            axis=Axis.MASS_FLOW,
            quantity=Quantity.MASS_FLOW,
            kind=LimitKind.PROTECTIVE,
            costs_power_only=True,
            demand=lambda op, setting, own: pipe.equivalent_flow(
                op.air_flow, pipe.gas_density(setting.weather.pressure, setting.weather.temperature)
            ),
            capacity=lambda op, setting, own: own.value("air flow"),
            why="beyond this flow the depression before the compressor grows with the square of the flow",
            consequence="the turbocharger works harder for less air; oil mist, loss at high speed",
            source="flow-bench practice: the loss grows as flow squared over density (White, Fluid Mechanics, ch. 6)",
        ),
    ),
)
