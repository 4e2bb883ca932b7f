"""Driveshafts: torque at the wheel in a low gear."""

from graph.limit import Axis, ConditionSpec, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import mechanical
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
    ),
    cautions=("B",),
)
