"""Follower between cam and high-pressure pump."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="follower",
    label="follower",
    area="Fuel",
    does="lets the cam drive the high-pressure fuel pump",
    synonyms=(
        "cam follower",
        "tappet",
        "stoessel",
        "rollenstoessel",
    ),
    ratings=(
        RatingSpec(
            name="pressure",
            quantity=Quantity.GAUGE_PRESSURE,
            label="highest rail pressure",
            plausible=(30.0e5, 1000.0e5),
        ),
    ),
    limits=(
        LimitRule(
            name="load on the follower",
            rating="pressure",
            axis=Axis.PRESSURE,
            quantity=Quantity.GAUGE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: setting.constant("rail pressure"),
            capacity=lambda op, setting, own: own.value("pressure"),
            why="contact stress follows the rail pressure",
            consequence="coating wears through, delivery falls, metal in the oil",
            source="contact stress of cam and follower (shop experience)",
            no_ceiling="rail pressure does not grow with power",
        ),
    ),
    cautions=(
        "F",
        "J",
    ),
)
