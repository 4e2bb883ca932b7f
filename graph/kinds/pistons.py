"""Pistons: mean peak pressure."""

from graph.limit import Axis, Control, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import overshoot, preignition
from graph.quantity import Quantity

KIND = Kind(
    name="pistons",
    label="pistons",
    area="Engine",
    does="take the force of the combustion",
    synonyms=(
        "kolben",
        "piston set",
    ),
    ratings=(
        RatingSpec(
            name="peak pressure",
            quantity=Quantity.ABSOLUTE_PRESSURE,
            label="mean peak cylinder pressure",
            plausible=(4.0e6, 3.0e7),
        ),
        RatingSpec(
            name="single peak",
            quantity=Quantity.ABSOLUTE_PRESSURE,
            label="peak pressure of a single cycle",
            plausible=(5.0e6, 4.0e7),
            required=False,
        ),
        RatingSpec(
            name="low-speed load",
            quantity=Quantity.PRESSURE_DIFFERENCE,
            label="brake mean effective pressure up to which pre-ignition at low speed stays rare",
            plausible=(8.0e5, 4.0e6),
            required=False,
            default=20.0e5,
            default_source="16 to 22 bar below 2500 1/min (from memory of the literature)",
        ),
    ),
    limits=(
        LimitRule(
            name="peak pressure on the pistons",
            rating="peak pressure",
            axis=Axis.PEAK_PRESSURE,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.peak_pressure,
            capacity=lambda op, setting, own: own.value("peak pressure"),
            why="the ring lands carry the peak pressure",
            consequence="a broken ring land: oil use, one cylinder weak",
            source="gas force on the piston area; later spark lowers it first",
            control=Control.SPARK,
        ),
        LimitRule(
            name="strongest cycles on the pistons",
            rating="single peak",
            axis=Axis.PEAK_PRESSURE,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: overshoot.single_cycle(
                op.peak_pressure, op.manifold_pressure, setting.weather.pressure, setting.linked
            ),
            capacity=lambda op, setting, own: own.value("single peak"),
            why="single cycles peak well above the mean, most while the boost overshoots",
            consequence="a cracked ring land after one spike of boost",
            source="three standard deviations of 6 % (Heywood 1988, sec. 9.4, from memory) on the overshoot of the boost",
        ),
        LimitRule(
            name="pre-ignition at low speed",
            rating="low-speed load",
            axis=Axis.TORQUE,
            quantity=Quantity.PRESSURE_DIFFERENCE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: preignition.low_speed_load(
                op.torque,
                op.speed,
                setting.constant("bore"),
                setting.constant("stroke"),
                setting.constant("cylinders"),
            ),
            capacity=lambda op, setting, own: own.value("low-speed load"),
            why="below about 2500 1/min dense charge has the time to light itself before the spark",
            consequence="one cycle at twice the usual peak: broken ring lands, a bent rod, without a warning",
            source="seen in turbocharged direct-injection engines (SAE 2022-28-0023, abstract); figures from memory",
            control=Control.TORQUE,
            no_ceiling="less torque at low speed respects it: it shapes the torque allowed and not the highest power",
        ),
    ),
    feeds=(Feed(parameter="peak_pressure", value=lambda own, setting: own.value("peak pressure")),),
)
