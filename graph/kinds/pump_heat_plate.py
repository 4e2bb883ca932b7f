"""Heat plate under the pump controller."""

from graph.limit import Kind, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="pump_heat_plate",
    label="controller heat plate",
    area="Fuel",
    does="carries heat away from the pump controller",
    synonyms=(
        "heat plate",
        "kuehlplatte",
    ),
    ratings=(
        RatingSpec(
            name="case drop",
            quantity=Quantity.TEMPERATURE_DIFFERENCE,
            label="fall of the case temperature",
            plausible=(2.0, 60.0),
            required=False,
        ),
    ),
    no_limit="it lifts what the controller stands and carries nothing itself",
    cautions=("E",),
)
