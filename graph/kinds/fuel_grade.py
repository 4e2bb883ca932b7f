"""The fuel in the tank: knock rating and ethanol."""

from graph.limit import Kind, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="fuel_grade",
    label="fuel grade",
    area="Fuel",
    does="is what the engine burns",
    synonyms=(
        "fuel",
        "kraftstoff",
        "kraftstoffsorte",
    ),
    ratings=(
        RatingSpec(
            name="research octane",
            quantity=Quantity.OCTANE_NUMBER,
            label="research octane number",
            plausible=(60.0, 130.0),
        ),
        RatingSpec(
            name="motor octane", quantity=Quantity.OCTANE_NUMBER, label="motor octane number", plausible=(60.0, 125.0)
        ),
        RatingSpec(
            name="ethanol",
            quantity=Quantity.RATIO,
            label="ethanol by volume",
            plausible=(0.0, 1.0),
            required=False,
            default=0.0,
            default_source="petrol without ethanol",
        ),
        RatingSpec(
            name="density",
            quantity=Quantity.DENSITY,
            label="density at 20 degC",
            plausible=(650.0, 900.0),
            required=False,
        ),
    ),
    no_limit="the fuel acts through what the engine itself can make: knock sets the phasing",
)
