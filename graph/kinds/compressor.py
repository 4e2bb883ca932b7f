"""Compressor: choke, pressure ratio, surge, each on its own reference state."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import compressor, pressure
from graph.quantity import Quantity

KIND = Kind(
    name="compressor",
    label="compressor",
    area="Air",
    does="is the part of the turbocharger that pumps the air",
    synonyms=(
        "turbo",
        "turbocharger",
        "verdichter",
        "turbolader",
    ),
    ratings=(
        RatingSpec(
            name="choke flow",
            quantity=Quantity.MASS_FLOW,
            label="largest corrected flow, over pressure ratio",
            plausible=(0.04, 1.5),
            conditions=(
                ConditionSpec(name="reference temperature", quantity=Quantity.TEMPERATURE, required=True),
                ConditionSpec(name="reference pressure", quantity=Quantity.ABSOLUTE_PRESSURE, required=True),
            ),
            over=Quantity.PRESSURE_RATIO,
        ),
        RatingSpec(
            name="pressure ratio",
            quantity=Quantity.PRESSURE_RATIO,
            label="highest pressure ratio at full wheel speed",
            plausible=(1.3, 6.0),
        ),
        RatingSpec(
            name="surge flow",
            quantity=Quantity.MASS_FLOW,
            label="smallest corrected flow, over pressure ratio",
            plausible=(0.005, 0.6),
            conditions=(
                ConditionSpec(name="reference temperature", quantity=Quantity.TEMPERATURE, required=True),
                ConditionSpec(name="reference pressure", quantity=Quantity.ABSOLUTE_PRESSURE, required=True),
            ),
            over=Quantity.PRESSURE_RATIO,
            required=False,
        ),
        RatingSpec(
            name="efficiency",
            quantity=Quantity.RATIO,
            label="efficiency in the working range",
            plausible=(0.4, 0.85),
            required=False,
            default=0.72,
            default_source="0.68 to 0.74 for small wheels (from memory of Watson and Janota)",
        ),
    ),
    limits=(
        LimitRule(
            name="air flow at compressor choke",
            rating="choke flow",
            axis=Axis.MASS_FLOW,
            quantity=Quantity.MASS_FLOW,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: compressor.corrected_flow(
                op.air_flow,
                setting.weather.temperature,
                op.compressor_inlet_pressure,
                own.condition("choke flow", "reference temperature"),
                own.condition("choke flow", "reference pressure"),
            ),
            capacity=lambda op, setting, own: own.value(
                "choke flow", at=pressure.ratio(op.compressor_outlet_pressure, op.compressor_inlet_pressure)
            ),
            why="the inducer chokes: more speed brings heat and no air",
            consequence="boost holds but power does not follow, outlet very hot",
            source="similarity of turbomachines; the map keeps its own reference state",
        ),
        LimitRule(
            name="pressure ratio of the compressor",
            rating="pressure ratio",
            axis=Axis.PRESSURE_RATIO,
            quantity=Quantity.PRESSURE_RATIO,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: pressure.ratio(op.compressor_outlet_pressure, op.compressor_inlet_pressure),
            capacity=lambda op, setting, own: own.value("pressure ratio"),
            why="pressure ratio is wheel speed squared",
            consequence="the wheel overspeeds and bursts in time",
            source="tip speed from the Euler equation (Dixon and Hall, ch. 7, from memory)",
        ),
        LimitRule(
            name="surge of the compressor",
            rating="surge flow",
            axis=Axis.MASS_FLOW,
            quantity=Quantity.MASS_FLOW,
            kind=LimitKind.FLOOR,
            demand=lambda op, setting, own: own.value(
                "surge flow", at=pressure.ratio(op.compressor_outlet_pressure, op.compressor_inlet_pressure)
            ),
            capacity=lambda op, setting, own: compressor.corrected_flow(
                op.air_flow,
                setting.weather.temperature,
                op.compressor_inlet_pressure,
                own.condition("surge flow", "reference temperature"),
                own.condition("surge flow", "reference pressure"),
            ),
            why="below its smallest flow the compressor pumps back",
            consequence="flutter, hammering thrust bearing at low speed and high boost",
            source="surge line of the map",
            no_ceiling="a floor: it sets how early boost may come, not a highest power",
        ),
    ),
    feeds=(Feed(parameter="compressor_efficiency", value=lambda own, setting: own.value("efficiency")),),
    cautions=(
        "H",
        "R",
    ),
)
