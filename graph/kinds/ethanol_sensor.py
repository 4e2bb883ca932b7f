"""Ethanol content sensor."""

from graph.limit import Kind, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="ethanol_sensor",
    label="ethanol sensor",
    area="Fuel",
    does="tells how much ethanol is in the fuel",
    synonyms=(
        "flex fuel sensor",
        "ethanolsensor",
    ),
    ratings=(
        RatingSpec(
            name="accuracy",
            quantity=Quantity.RATIO,
            label="error of the ethanol reading",
            plausible=(0.005, 0.2),
            required=False,
        ),
    ),
    no_limit="it measures and carries nothing",
    cautions=("F",),
)
