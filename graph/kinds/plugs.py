"""Spark plugs: the voltage that their gap asks for."""

from graph.limit import Axis, ConditionSpec, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import spark
from graph.quantity import Quantity

KIND = Kind(
    name="plugs",
    label="plugs",
    area="Engine",
    does="light the mixture",
    synonyms=(
        "spark plugs",
        "zuendkerzen",
    ),
    ratings=(
        RatingSpec(
            name="gap",
            quantity=Quantity.LENGTH,
            label="electrode gap",
            plausible=(0.0003, 0.0015),
            conditions=(ConditionSpec(name="coil energy", quantity=Quantity.ENERGY, default=0.070),),
        ),
    ),
    limits=(
        LimitRule(
            name="spark voltage at the plug gap",
            rating="gap",
            axis=Axis.SPARK,
            quantity=Quantity.VOLTAGE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: spark.demand_voltage(own.value("gap"), op.spark_density),
            capacity=lambda op, setting, own: spark.coil_voltage(own.condition("gap", "coil energy")),
            why="denser charge needs more voltage to break down the gap",
            consequence="misfire under boost with a healthy mixture, worst where the gap is widest",
            source="breakdown of a gap grows with density and gap; coil of the stated energy",
            costs_power_only=True,
        ),
    ),
    cautions=("H",),
)
