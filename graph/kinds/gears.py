"""Gear set: torque on the teeth."""

from graph.limit import Axis, ConditionSpec, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import driveline
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
        RatingSpec(
            name="torque by gear",
            quantity=Quantity.TORQUE,
            label="highest crank torque of each gear, over the gear",
            plausible=(80.0, 3000.0),
            over=Quantity.COUNT,
            required=False,
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
        LimitRule(
            name="torque through the weakest gear",
            rating="torque by gear",
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.torque,
            capacity=lambda op, setting, own: driveline.weakest_gear(own.curve("torque by gear").y),
            why="every gear is driven sooner or later, and the narrowest pair gives way first",
            consequence="teeth of one gear break; the others stay whole",
            source="torque balance; tooth load by gear from own teardowns",
            control=Control.TORQUE,
        ),
    ),
    cautions=("R",),
)
