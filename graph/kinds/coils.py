"""Ignition coils: stored energy as voltage at the gap."""

from graph.limit import Axis, ConditionSpec, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import spark
from graph.quantity import Quantity

KIND = Kind(
    name="coils",
    label="coils",
    area="Engine",
    does="make the spark",
    synonyms=(
        "ignition coils",
        "zuendspulen",
    ),
    ratings=(
        RatingSpec(
            name="energy",
            quantity=Quantity.ENERGY,
            label="stored energy",
            plausible=(0.015, 0.5),
            conditions=(ConditionSpec(name="gap", quantity=Quantity.LENGTH, default=0.00065),),
        ),
    ),
    limits=(
        LimitRule(
            name="voltage that the coil has for the gap",
            rating="energy",
            axis=Axis.SPARK,
            quantity=Quantity.VOLTAGE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: spark.demand_voltage(own.condition("energy", "gap"), op.spark_density),
            capacity=lambda op, setting, own: spark.coil_voltage(own.value("energy")),
            why="the coil must have the voltage that the gap asks for, with reserve",
            consequence="misfire when hot, one cylinder follows its coil",
            source="energy of a charged capacitance; reserve by trade rule",
            costs_power_only=True,
        ),
    ),
    cautions=("E",),
)
