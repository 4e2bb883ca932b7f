"""Air-flow meter: the end of its signal."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="air_flow_meter",
    label="air-flow meter",
    area="Air",
    does="tells the controller how much air the engine breathes",
    synonyms=(
        "maf",
        "air mass meter",
        "luftmassenmesser",
    ),
    ratings=(
        RatingSpec(
            name="full scale",
            quantity=Quantity.MASS_FLOW,
            label="largest air flow that it can report",
            plausible=(0.05, 1.5),
        ),
    ),
    limits=(
        LimitRule(
            name="range of the air-flow meter",
            rating="full scale",
            axis=Axis.SIGNAL,
            quantity=Quantity.MASS_FLOW,
            kind=LimitKind.MEASURING,
            demand=lambda op, setting, own: op.air_flow,
            capacity=lambda op, setting, own: own.value("full scale"),
            why="above full scale the signal stays flat while the air still rises",
            consequence="fuel and spark are computed for too little air",
            source="definition of a measuring range",
        ),
    ),
)
