"""Packs of the dual-clutch gearbox: torque at oil temperature."""

from graph.limit import Axis, ConditionSpec, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="packs",
    label="packs",
    area="Drive",
    does="pass the torque inside the dual-clutch gearbox",
    synonyms=(
        "clutch packs",
        "dual-clutch packs",
        "lamellenpakete",
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
            name="torque through the packs",
            rating="torque",
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.torque,
            capacity=lambda op, setting, own: own.value("torque"),
            why="torque, not power, loads it",
            consequence="slip, torque cut, hot mode",
            source="torque balance; own slip tests and logs",
            control=Control.TORQUE,
        ),
    ),
    cautions=("R",),
)
