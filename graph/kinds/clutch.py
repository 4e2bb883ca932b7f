"""Clutch of the manual gearbox: torque when warm."""

from graph.limit import Axis, ConditionSpec, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="clutch",
    label="clutch",
    area="Drive",
    does="passes the torque to the gearbox",
    synonyms=(
        "kupplung",
        "clutch kit",
    ),
    ratings=(
        RatingSpec(
            name="torque",
            quantity=Quantity.TORQUE,
            label="highest crank torque",
            plausible=(80.0, 3000.0),
            conditions=(ConditionSpec(name="temperature", quantity=Quantity.TEMPERATURE, default=363.15),),
        ),
    ),
    limits=(
        LimitRule(
            name="torque through the clutch",
            rating="torque",
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.torque,
            capacity=lambda op, setting, own: own.value("torque"),
            why="torque, not power, loads it",
            consequence="engine speed rises without road speed in a high gear",
            source="torque balance; own slip tests and logs",
            control=Control.TORQUE,
        ),
    ),
    cautions=("R",),
)
