"""Intake manifold: boost against its welds."""

from graph.limit import Axis, ConditionSpec, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import overshoot
from graph.quantity import Quantity

KIND = Kind(
    name="intake_manifold",
    label="intake manifold",
    area="Air",
    does="spreads the air to the cylinders",
    synonyms=(
        "inlet manifold",
        "plenum",
        "saugrohr",
        "ansaugkruemmer",
    ),
    ratings=(
        RatingSpec(
            name="boost",
            quantity=Quantity.GAUGE_PRESSURE,
            label="highest boost",
            plausible=(0.5e5, 12.0e5),
            conditions=(ConditionSpec(name="overshoot", quantity=Quantity.RATIO, default=0.10),),
        ),
    ),
    limits=(
        LimitRule(
            name="boost in the intake manifold",
            rating="boost",
            axis=Axis.BOOST,
            quantity=Quantity.GAUGE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: overshoot.peak_gauge(
                op.manifold_pressure, setting.weather.pressure, setting.linked
            ),
            capacity=lambda op, setting, own: overshoot.rated_peak(
                own.value("boost"), own.condition("boost", "overshoot")
            ),
            why="a moulded manifold is welded from shells",
            consequence="a hiss, lean at idle, a split weld",
            source="burst of a shell; shop experience",
        ),
    ),
    cautions=("F",),
)
