"""Fuel rail with relief valve."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="rail",
    label="rail",
    area="Fuel",
    does="holds the fuel under pressure for the injectors",
    synonyms=(
        "fuel rail",
        "relief valve",
        "hochdruckleiste",
    ),
    ratings=(
        RatingSpec(
            name="relief pressure",
            quantity=Quantity.GAUGE_PRESSURE,
            label="pressure at which the relief valve opens",
            plausible=(30.0e5, 1000.0e5),
        ),
    ),
    limits=(
        LimitRule(
            name="rail pressure against the relief valve",
            rating="relief pressure",
            axis=Axis.PRESSURE,
            quantity=Quantity.GAUGE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: setting.constant("rail pressure"),
            capacity=lambda op, setting, own: own.value("relief pressure"),
            why="above its opening pressure the valve gives the fuel back",
            consequence="rail pressure stops below its target at a fixed value",
            source="opening pressure of the valve",
            no_ceiling="rail pressure does not grow with power",
        ),
    ),
    cautions=("J",),
)
