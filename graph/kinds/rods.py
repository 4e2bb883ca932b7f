"""Connecting rods: compression by torque at low speed, tension by speed squared."""

from graph.limit import Axis, Control, Kind, LimitKind, LimitRule, RatingSpec
from graph.quantity import Quantity

KIND = Kind(
    name="rods",
    label="rods",
    area="Engine",
    does="carry the force from the pistons to the crankshaft",
    synonyms=("connecting rods", "con rods", "pleuel"),
    ratings=(
        RatingSpec(
            name="torque",
            quantity=Quantity.TORQUE,
            label="highest crank torque over engine speed",
            plausible=(80.0, 3000.0),
            over=Quantity.ROTATIONAL_SPEED,
        ),
        RatingSpec(
            name="speed",
            quantity=Quantity.ROTATIONAL_SPEED,
            label="highest engine speed for the bolts in tension",
            plausible=(50.0, 250.0),
            required=False,
        ),
    ),
    limits=(
        LimitRule(
            name="torque on the rods",
            rating="torque",
            axis=Axis.TORQUE,
            quantity=Quantity.TORQUE,
            kind=LimitKind.PROTECTIVE,
            control=Control.TORQUE,
            demand=lambda op, setting, own: op.torque,
            capacity=lambda op, setting, own: own.value("torque", at=op.speed),
            why="gas force bends a rod most at low speed, where inertia does not relieve it",
            consequence="a bent rod, low compression, in the end a hole in the block",
            source="rod load = gas force minus inertia (Heywood, ch. 2; Taylor, vol. 2)",
        ),
        LimitRule(
            name="tension on rods and bolts",
            rating="speed",
            axis=Axis.SPEED,
            quantity=Quantity.ROTATIONAL_SPEED,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.speed,
            capacity=lambda op, setting, own: own.value("speed"),
            why="inertia pulls the rod at the end of the exhaust stroke and grows with speed squared",
            consequence="a bolt stretches and lets go",
            source="inertia force m r w^2 (1 + r/l)",
            no_ceiling="tension comes from speed, not from power",
        ),
    ),
)
