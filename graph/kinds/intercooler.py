"""Charge cooler: effectiveness at a flow, pressure drop, charge temperature."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import cooler, pipe, pressure
from graph.quantity import Quantity

KIND = Kind(
    name="intercooler",
    label="intercooler",
    area="Air",
    does="cools the compressed air",
    synonyms=(
        "charge cooler",
        "cooler",
        "ladeluftkuehler",
    ),
    ratings=(
        RatingSpec(
            name="effectiveness",
            quantity=Quantity.RATIO,
            label="effectiveness at the stated air flow",
            plausible=(0.2, 0.99),
            conditions=(ConditionSpec(name="air flow", quantity=Quantity.MASS_FLOW, default=0.25),),
        ),
        RatingSpec(
            name="pressure drop",
            quantity=Quantity.PRESSURE_DIFFERENCE,
            label="pressure drop at the stated air flow and charge density",
            plausible=(2000.0, 60000.0),
            conditions=(
                ConditionSpec(name="air flow", quantity=Quantity.MASS_FLOW, default=0.30),
                ConditionSpec(name="density", quantity=Quantity.DENSITY, default=2.5),
            ),
            required=False,
            default=10000.0,
            default_source="8 to 20 kPa at 0.30 kg/s and 2.5 bar (assumption)",
        ),
        RatingSpec(
            name="charge temperature",
            quantity=Quantity.TEMPERATURE,
            label="highest charge temperature by the shop",
            plausible=(303.15, 393.15),
            required=False,
            default=338.15,
            default_source="shop rule: charge at most 65 degC",
        ),
        RatingSpec(
            name="soak",
            quantity=Quantity.TEMPERATURE_DIFFERENCE,
            label="warming of its cold side under full load without end, at the stated heat",
            plausible=(0.5, 80.0),
            conditions=(ConditionSpec(name="heat", quantity=Quantity.POWER, default=25.0e3),),
            required=False,
        ),
        RatingSpec(
            name="time constant",
            quantity=Quantity.DURATION,
            label="time constant of that warming",
            plausible=(5.0, 3600.0),
            required=False,
            default=60.0,
            default_source="core and coolant of a small cooler (assumption)",
        ),
    ),
    limits=(
        LimitRule(
            name="charge over the air after the cooler",
            rating="charge temperature",
            axis=Axis.TEMPERATURE,
            quantity=Quantity.TEMPERATURE_DIFFERENCE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: pressure.over(op.charge_temperature, setting.weather.temperature),
            capacity=lambda op, setting, own: pressure.over(
                own.value("charge temperature"), setting.weather.temperature
            ),
            why="hot charge is thin and knocks",
            consequence="spark is pulled, power falls, worse with each run",
            source="definition of effectiveness (Incropera, sec. 11.4, from memory); the limit is a shop rule",
            costs_power_only=True,
        ),
    ),
    feeds=(
        Feed(parameter="cooler_effectiveness", value=lambda own, setting: own.value("effectiveness")),
        Feed(parameter="cooler_flow", value=lambda own, setting: own.condition("effectiveness", "air flow")),
        Feed(
            parameter="cooler_soak",
            value=lambda own, setting: cooler.soak_after(
                cooler.soak_per_heat(own.value("soak"), own.condition("soak", "heat")),
                setting.duration,
                own.value("time constant"),
            ),
        ),
        Feed(
            parameter="cooler_loss",
            value=lambda own, setting: pipe.loss_coefficient(
                own.value("pressure drop"),
                own.condition("pressure drop", "air flow"),
                own.condition("pressure drop", "density"),
            ),
        ),
    ),
    cautions=("H",),
)
