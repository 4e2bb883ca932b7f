"""Head studs and gasket: peak pressure against clamp load."""

from graph.limit import Axis, Control, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import overshoot
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
        RatingSpec(
            name="single peak",
            quantity=Quantity.ABSOLUTE_PRESSURE,
            label="peak pressure of a single cycle",
            plausible=(5.0e6, 4.0e7),
            required=False,
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
        LimitRule(
            name="strongest cycles on the head clamp",
            rating="single peak",
            axis=Axis.PEAK_PRESSURE,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: overshoot.single_cycle(
                op.peak_pressure, op.manifold_pressure, setting.weather.pressure, setting.linked
            ),
            capacity=lambda op, setting, own: own.value("single peak"),
            why="single cycles peak well above the mean, most while the boost overshoots",
            consequence="coolant is pushed out after a spike although the steady boost was held",
            source="three standard deviations of 6 % (Heywood 1988, sec. 9.4, from memory) on the overshoot of the boost",
        ),
    ),
    feeds=(Feed(parameter="peak_pressure", value=lambda own, setting: own.value("peak pressure")),),
)
