"""Charge pipes and hoses: boost at temperature."""

from graph.limit import Axis, ConditionSpec, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import overshoot
from graph.quantity import Quantity

KIND = Kind(
    name="charge_pipe",
    label="charge pipe",
    area="Air",
    does="leads the compressed air to the engine",
    synonyms=(
        "boost pipe",
        "intercooler pipe",
        "charge hose",
        "ladeluftrohr",
        "ladeluftschlauch",
    ),
    ratings=(
        RatingSpec(
            name="boost",
            quantity=Quantity.GAUGE_PRESSURE,
            label="highest boost",
            plausible=(0.4e5, 10.0e5),
            conditions=(
                ConditionSpec(name="temperature", quantity=Quantity.TEMPERATURE, default=383.15),
                ConditionSpec(name="overshoot", quantity=Quantity.RATIO, default=0.10),
            ),
        ),
    ),
    limits=(
        LimitRule(
            name="boost in the charge pipe",
            rating="boost",
            axis=Axis.BOOST,
            quantity=Quantity.GAUGE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: overshoot.peak_gauge(
                op.boost_pressure, setting.weather.pressure, setting.linked
            ),
            capacity=lambda op, setting, own: overshoot.rated_peak(
                own.value("boost"), own.condition("boost", "overshoot")
            ),
            why="the wall carries boost against the air outside",
            consequence="a bang, boost is gone, unmetered or rich",
            source="hoop load of a thin wall; failures seen on cars contain the peak at which boost arrives, a pressure test none",
        ),
    ),
    cautions=("H",),
)
