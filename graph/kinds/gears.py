"""Gear set: torque on the teeth."""

from graph.limit import Axis, ConditionSpec, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="gears",
    label="gears",
    area="Drive",
    does="carry the torque through the gearbox",
    synonyms=(
        "gear set",
        "gearbox",
        "zahnraeder",
        "getriebe",
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
            name="torque through the gears",
            rating="torque",
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.torque,
            capacity=lambda op, setting, own: own.value("torque"),
            why="torque, not power, loads it",
            consequence="whine, metal in the oil, broken teeth",
            source="torque balance; own slip tests and logs",
            control=Control.TORQUE,
        ),
    ),
    cautions=("R",),
)
