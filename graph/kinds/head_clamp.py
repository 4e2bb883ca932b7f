"""Head studs and gasket: peak pressure against clamp load."""

from graph.limit import Axis, Control, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="head_clamp",
    label="head clamp",
    area="Engine",
    does="clamp the head to the block",
    synonyms=(
        "head studs",
        "head bolts",
        "head gasket",
        "zylinderkopfschrauben",
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
            name="peak pressure on the head clamp",
            rating="peak pressure",
            axis=Axis.PEAK_PRESSURE,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.peak_pressure,
            capacity=lambda op, setting, own: own.value("peak pressure"),
            why="peak pressure lifts the head against its studs",
            consequence="coolant is pushed out under load, hoses hard when cold",
            source="gas force on the piston area; later spark lowers it first",
            control=Control.SPARK,
        ),
    ),
    feeds=(Feed(parameter="peak_pressure", value=lambda own, setting: own.value("peak pressure")),),
)
