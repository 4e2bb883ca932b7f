"""Downpipe with catalyst: back pressure."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import gas, pipe
from graph.quantity import Quantity

KIND = Kind(
    name="catalyst",
    label="catalyst",
    area="Exhaust",
    does="cleans the exhaust gas",
    synonyms=(
        "downpipe",
        "cat",
        "katalysator",
        "vorrohr",
    ),
    ratings=(
        RatingSpec(
            name="pressure drop",
            quantity=Quantity.PRESSURE_DIFFERENCE,
            label="pressure drop at the stated gas flow and temperature",
            plausible=(4500.0, 120000.0),
            conditions=(
                ConditionSpec(name="gas flow", quantity=Quantity.MASS_FLOW, default=0.32),
                ConditionSpec(name="temperature", quantity=Quantity.TEMPERATURE, default=1150.0),
                ConditionSpec(name="pressure", quantity=Quantity.ABSOLUTE_PRESSURE, default=1.15e5),
            ),
        ),
        RatingSpec(
            name="allowed drop",
            quantity=Quantity.PRESSURE_DIFFERENCE,
            label="highest pressure drop by the shop",
            plausible=(4000.0, 100000.0),
            required=False,
            default=35000.0,
            default_source="shop rule: at most 35 kPa at full load",
        ),
    ),
    limits=(
        LimitRule(
            name="back pressure of the catalyst",
            rating="allowed drop",
            axis=Axis.BACK_PRESSURE,
            quantity=Quantity.PRESSURE_DIFFERENCE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: pipe.rated_gas_loss(
                own.value("pressure drop"), own.condition("pressure drop", "gas flow"), op.exhaust_flow
            ),
            capacity=lambda op, setting, own: own.value("allowed drop"),
            why="pressure behind the turbine is lost to the turbine and comes back as heat",
            consequence="flat everywhere, hot floor, exhaust temperature up",
            source="loss grows with flow squared (White, ch. 6, from memory); the allowed drop is a shop rule",
            costs_power_only=True,
        ),
    ),
    feeds=(
        Feed(
            parameter="catalyst_loss",
            value=lambda own, setting: pipe.loss_coefficient(
                own.value("pressure drop"),
                own.condition("pressure drop", "gas flow"),
                pipe.gas_density(
                    own.condition("pressure drop", "pressure"),
                    own.condition("pressure drop", "temperature"),
                    gas.R_EXHAUST,
                ),
            ),
        ),
    ),
    cautions=(
        "H",
        "L",
        "I",
    ),
)
