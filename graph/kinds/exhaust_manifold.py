"""Exhaust manifold: gas temperature."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="exhaust_manifold",
    label="exhaust manifold",
    area="Exhaust",
    does="leads the exhaust gas to the turbocharger",
    synonyms=(
        "manifold",
        "header",
        "abgaskruemmer",
    ),
    ratings=(
        RatingSpec(
            name="gas temperature",
            quantity=Quantity.TEMPERATURE,
            label="highest gas temperature",
            plausible=(873.15, 1473.15),
        ),
    ),
    limits=(
        LimitRule(
            name="gas temperature in the exhaust manifold",
            rating="gas temperature",
            axis=Axis.TEMPERATURE,
            quantity=Quantity.TEMPERATURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.exhaust_temperature,
            capacity=lambda op, setting, own: own.value("gas temperature"),
            why="iron creeps and cracks above its gas temperature",
            consequence="ticking when cold, soot marks, a crack into a runner",
            source="foundry tables of heat-resistant iron and steel",
        ),
    ),
    cautions=(
        "H",
        "F",
    ),
)
