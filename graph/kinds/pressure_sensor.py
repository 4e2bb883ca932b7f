"""Manifold pressure sensor: the end of its range is where control goes blind."""

from graph.limit import Axis, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import overshoot
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
        LimitRule(
            name="peak of the boost within the sensor's range",
            rating="full scale",
            axis=Axis.SIGNAL,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.MEASURING,
            demand=lambda op, setting, own: overshoot.peak_absolute(
                op.manifold_pressure, setting.weather.pressure, setting.linked
            ),
            capacity=lambda op, setting, own: own.value("full scale"),
            why="when boost arrives it peaks above its steady value before control catches it",
            consequence="the peak is cut off in the log and the cut against overboost does not see it",
            source="10 to 15 % overshoot with closed-loop control (trade, from memory)",
        ),
    ),
)
