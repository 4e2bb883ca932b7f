"""Calibration: the torque that the control models allow."""

from graph.limit import Axis, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="calibration",
    label="calibration",
    area="Control",
    does="is the program of the engine controller",
    synonyms=(
        "map",
        "software",
        "abstimmung",
        "kennfeld",
    ),
    ratings=(
        RatingSpec(
            name="torque",
            quantity=Quantity.TORQUE,
            label="torque at which a control model clips",
            plausible=(80.0, 3000.0),
            required=False,
        ),
    ),
    limits=(
        LimitRule(
            name="torque clip of the control model",
            rating="torque",
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: op.torque,
            capacity=lambda op, setting, own: own.value("torque"),
            why="the control model closes the throttle above its torque",
            consequence="the throttle shuts with everything healthy",
            source="read from the control file",
            control=Control.TORQUE,
        ),
    ),
    cautions=(
        "L",
        "I",
    ),
)
