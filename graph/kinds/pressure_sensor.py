"""Manifold pressure sensor: the end of its range is where control goes blind."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="pressure_sensor",
    label="pressure sensor",
    area="Air",
    does="tells the controller how high the pressure in the intake is",
    synonyms=("map sensor", "boost sensor", "ladedrucksensor", "saugrohrdrucksensor"),
    ratings=(
        RatingSpec(
            name="full scale",
            quantity=Quantity.ABSOLUTE_PRESSURE,
            label="highest absolute pressure that it can report",
            plausible=(1.0e5, 8.0e5),
        ),
    ),
    limits=(
        LimitRule(
            name="range of the manifold pressure sensor",
            rating="full scale",
            axis=Axis.SIGNAL,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.MEASURING,
            demand=lambda op, setting, own: op.manifold_pressure,
            capacity=lambda op, setting, own: own.value("full scale"),
            why="above full scale the signal is flat and the controller no longer sees the boost",
            consequence="overboost is not seen; fuel and spark are computed for too little air",
            source="definition of a measuring range; the sensor reads absolute pressure",
        ),
    ),
)
