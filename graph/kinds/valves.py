"""Valves: what has grown on the inlet side, and the springs that hold the exhaust side shut against back pressure."""

from graph.limit import Axis, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import breathing, engine_load
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
        RatingSpec(
            name="seat load",
            quantity=Quantity.FORCE,
            label="load of the exhaust valve spring on its seat",
            plausible=(80.0, 1500.0),
            required=False,
        ),
        RatingSpec(
            name="exhaust valve",
            quantity=Quantity.LENGTH,
            label="diameter of the exhaust valve head",
            plausible=(0.018, 0.06),
            required=False,
            default=0.028,
            default_source="heads of 26 to 30 mm in two-litre engines with four valves (assumption)",
        ),
    ),
    limits=(
        LimitRule(
            name="exhaust valves held shut against back pressure",
            rating="seat load",
            axis=Axis.BACK_PRESSURE,
            quantity=Quantity.FORCE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: engine_load.valve_lift_force(
                op.turbine_inlet_pressure, op.manifold_pressure, own.value("exhaust valve")
            ),
            capacity=lambda op, setting, own: own.value("seat load"),
            why="while the cylinder fills, the pressure before the turbine pushes the shut exhaust valves open",
            consequence="valves float, hot gas flows back, power stops rising, a valve meets its piston in the end",
            source="force balance of the shut valve; pulses of 1.3 times the mean are an assumption",
        ),
    ),
    feeds=(Feed(parameter="breathing", value=lambda own, setting: breathing.after_loss(own.value("air loss"))),),
)
