"""Brakes: hard stops before they fade."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import mechanical
from graph.quantity import Quantity

KIND = Kind(
    name="brakes",
    label="brakes",
    area="Chassis",
    does="stop the car",
    synonyms=(
        "brake pads",
        "bremsen",
    ),
    ratings=(RatingSpec(name="stops", quantity=Quantity.COUNT, label="hard stops until fade", plausible=(3.0, 75.0)),),
    limits=(
        LimitRule(
            name="hard stops before fade",
            rating="stops",
            axis=Axis.COUNT,
            quantity=Quantity.COUNT,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: mechanical.stops_in(setting.duration),
            capacity=lambda op, setting, own: own.value("stops"),
            why="more power means faster straights and more heat in each stop",
            consequence="long pedal, boiling fluid",
            source="stops counted in own tests; one hard stop a minute on a circuit is an assumption",
            no_ceiling="stops follow the drive, not the power of the engine",
        ),
    ),
    cautions=("B",),
)
