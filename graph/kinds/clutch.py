"""Clutch of the manual gearbox: torque when warm."""

from graph.limit import Axis, ConditionSpec, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import driveline
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
        RatingSpec(
            name="hot temperature",
            quantity=Quantity.TEMPERATURE,
            label="temperature that it reaches under full load without end",
            plausible=(333.15, 673.15),
            required=False,
        ),
        RatingSpec(
            name="fade",
            quantity=Quantity.RATIO,
            label="share of the torque lost per 100 K above the rating",
            plausible=(0.0, 0.6),
            required=False,
            default=0.15,
            default_source="0.1 to 0.3 for organic linings (from memory of lining data)",
        ),
        RatingSpec(
            name="time constant",
            quantity=Quantity.DURATION,
            label="time constant of its warming",
            plausible=(20.0, 7200.0),
            required=False,
            default=400.0,
            default_source="warming of gearbox oil seen in endurance logs; assumption",
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
        LimitRule(
            name="torque through the clutch when hot",
            rating="torque",
            reads=("hot temperature",),
            axis=Axis.HEAT,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.torque,
            capacity=lambda op, setting, own: driveline.faded_torque(
                own.value("torque"),
                own.condition("torque", "temperature"),
                own.value("hot temperature"),
                own.value("fade"),
                setting.duration,
                own.value("time constant"),
            ),
            why="friction of a lining falls as it warms in use",
            consequence="it slips in the next high gear, smells, and holds again when cold",
            source="first-order warming; fall of friction with temperature from memory of lining data",
            control=Control.TORQUE,
        ),
    ),
    cautions=("R",),
)
