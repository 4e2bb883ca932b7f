"""Driveshafts: torque at the wheel in a low gear."""

from graph.limit import Axis, ConditionSpec, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import driveline, mechanical
from graph.quantity import Quantity

KIND = Kind(
    name="driveshafts",
    label="driveshafts",
    area="Drive",
    does="carry the torque to the wheels",
    synonyms=(
        "axles",
        "drive shafts",
        "antriebswellen",
    ),
    ratings=(
        RatingSpec(
            name="shaft torque",
            quantity=Quantity.TORQUE,
            label="highest torque of one shaft",
            plausible=(300.0, 15000.0),
            conditions=(ConditionSpec(name="overall ratio", quantity=Quantity.RATIO, default=8.0),),
        ),
        RatingSpec(
            name="overall ratios",
            quantity=Quantity.RATIO,
            label="overall ratio of every gear in which full torque is asked, over the gear",
            plausible=(1.5, 25.0),
            over=Quantity.COUNT,
            required=False,
        ),
    ),
    limits=(
        LimitRule(
            name="torque on a driveshaft",
            rating="shaft torque",
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: mechanical.shaft_torque(
                op.torque, own.condition("shaft torque", "overall ratio")
            ),
            capacity=lambda op, setting, own: own.value("shaft torque"),
            why="a low gear multiplies the crank torque",
            consequence="vibration, a twisted or broken shaft",
            source="torque balance over two shafts; tyre grip may hold it lower",
            control=Control.TORQUE,
        ),
        LimitRule(
            name="torque on a driveshaft, gear by gear",
            rating="shaft torque",
            reads=("overall ratios",),
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: driveline.hardest_gear(op.torque, own.curve("overall ratios").y),
            capacity=lambda op, setting, own: own.value("shaft torque"),
            why="of the gears that see full torque the lowest loads the shafts most",
            consequence="a shaft breaks at the start or after the first change of gear",
            source="torque balance over two shafts; tyre grip may hold it lower",
            control=Control.TORQUE,
        ),
    ),
    cautions=("B",),
)
