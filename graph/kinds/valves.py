"""Inlet valves and what has grown on them."""

from graph.limit import Feed, Kind, RatingSpec
from graph.physics import breathing
from graph.quantity import Quantity

KIND = Kind(
    name="valves",
    label="valves",
    area="Engine",
    does="let the air into the cylinders",
    synonyms=(
        "inlet valves",
        "valve deposits",
        "einlassventile",
    ),
    ratings=(
        RatingSpec(
            name="air loss", quantity=Quantity.RATIO, label="share of the air that deposits cost", plausible=(0.0, 0.4)
        ),
    ),
    feeds=(Feed(parameter="breathing", value=lambda own, setting: breathing.after_loss(own.value("air loss"))),),
    no_limit="deposits lower the breathing of the engine and have no limit of their own",
)
