"""Pistons: mean peak pressure."""

from graph.limit import Axis, Control, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="pistons",
    label="pistons",
    area="Engine",
    does="take the force of the combustion",
    synonyms=(
        "kolben",
        "piston set",
    ),
    ratings=(
        RatingSpec(
            name="peak pressure",
            quantity=Quantity.ABSOLUTE_PRESSURE,
            label="mean peak cylinder pressure",
            plausible=(4.0e6, 3.0e7),
        ),
    ),
    limits=(
        LimitRule(
            name="peak pressure on the pistons",
            rating="peak pressure",
            axis=Axis.PEAK_PRESSURE,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.peak_pressure,
            capacity=lambda op, setting, own: own.value("peak pressure"),
            why="the ring lands carry the peak pressure",
            consequence="a broken ring land: oil use, one cylinder weak",
            source="gas force on the piston area; later spark lowers it first",
            control=Control.SPARK,
        ),
    ),
    feeds=(Feed(parameter="peak_pressure", value=lambda own, setting: own.value("peak pressure")),),
)
