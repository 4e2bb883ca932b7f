"""Crankcase ventilation and separator."""

from graph.limit import Kind, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="crankcase_vent",
    label="crankcase vent",
    area="Engine",
    does="leads blow-by gas back to the intake",
    synonyms=(
        "crankcase ventilation",
        "oil separator",
        "separator",
        "kurbelgehaeuseentlueftung",
    ),
    ratings=(
        RatingSpec(
            name="crankcase pressure",
            quantity=Quantity.PRESSURE_DIFFERENCE,
            label="highest crankcase pressure seen",
            plausible=(500.0, 15000.0),
            required=False,
        ),
    ),
    no_limit="its flow follows wear, not power; it is checked by its pressure",
    cautions=(
        "L",
        "F",
    ),
)
