"""Compressor: choke, pressure ratio, surge, each on its own reference state."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import compressor, compressor_map, map_points, pressure
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
        RatingSpec(
            name="speed line speed",
            quantity=Quantity.ROTATIONAL_SPEED,
            label="corrected wheel speed of every point of the map, over the point's number",
            plausible=(200.0, 6000.0),
            over=Quantity.COUNT,
            required=False,
            example="1: 90000; 2: 90000; 3: 90000; 4: 120000; 5: 120000; 6: 120000; 7: 150000; 8: 150000; 9: 150000",
        ),
        RatingSpec(
            name="speed line flow",
            quantity=Quantity.MASS_FLOW,
            label="corrected flow of every point of the map, over the point's number",
            plausible=(0.002, 1.5),
            conditions=(
                ConditionSpec(name="reference temperature", quantity=Quantity.TEMPERATURE, required=True),
                ConditionSpec(name="reference pressure", quantity=Quantity.ABSOLUTE_PRESSURE, required=True),
                ConditionSpec(name="surge", quantity=None, default="not stated", words=("soft", "hard", "not stated")),
            ),
            over=Quantity.COUNT,
            required=False,
            example="1: 40; 2: 80; 3: 110; 4: 70; 5: 130; 6: 170; 7: 100; 8: 180; 9: 230",
        ),
        RatingSpec(
            name="speed line pressure ratio",
            quantity=Quantity.PRESSURE_RATIO,
            label="pressure ratio of every point of the map, over the point's number",
            plausible=(1.0, 8.0),
            over=Quantity.COUNT,
            required=False,
            example="1: 1.5; 2: 1.45; 3: 1.2; 4: 2; 5: 1.9; 6: 1.5; 7: 2.8; 8: 2.6; 9: 1.9",
        ),
        RatingSpec(
            name="speed line efficiency",
            quantity=Quantity.RATIO,
            label="efficiency of every point of the map, over the point's number",
            plausible=(0.2, 0.88),
            over=Quantity.COUNT,
            required=False,
            example="1: 66; 2: 72; 3: 60; 4: 68; 5: 75; 6: 62; 7: 67; 8: 73; 9: 60",
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
        LimitRule(
            name="wheel speed of the compressor",
            rating="speed line flow",
            reads=("speed line speed", "speed line pressure ratio", "speed line efficiency"),
            axis=Axis.SPEED,
            quantity=Quantity.ROTATIONAL_SPEED,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: compressor_map.wheel_speed(
                map_points.stated_map(own.curve),
                op.air_flow,
                setting.weather.temperature,
                op.compressor_inlet_pressure,
                pressure.ratio(op.compressor_outlet_pressure, op.compressor_inlet_pressure),
                own.condition("speed line flow", "reference temperature"),
                own.condition("speed line flow", "reference pressure"),
            ),
            capacity=lambda op, setting, own: map_points.stated_map(own.curve).highest_speed,
            why="the last line that the maker shows is as fast as the wheel may turn",
            consequence="the wheel grows, touches its housing or bursts in time",
            source="similarity of turbomachines on the map's own reference state; straight between lines in speed squared",
        ),
    ),
    feeds=(
        Feed(parameter="compressor_efficiency", value=lambda own, setting: own.value("efficiency")),
        Feed(
            parameter="compressor_efficiency",
            value=lambda own, setting: map_points.stated_map(own.curve).ellipse().peak,
        ),
        Feed(
            parameter="map_flow",
            value=lambda own, setting: map_points.stated_map(own.curve).ellipse().best_flow,
        ),
        Feed(
            parameter="map_ratio",
            value=lambda own, setting: map_points.stated_map(own.curve).ellipse().best_ratio,
        ),
        Feed(
            parameter="map_flow_fall",
            value=lambda own, setting: map_points.stated_map(own.curve).ellipse().flow_fall,
        ),
        Feed(
            parameter="map_cross",
            value=lambda own, setting: map_points.stated_map(own.curve).ellipse().cross,
        ),
        Feed(
            parameter="map_ratio_fall",
            value=lambda own, setting: map_points.stated_map(own.curve).ellipse().ratio_fall,
        ),
        Feed(
            parameter="map_temperature",
            value=lambda own, setting: own.condition("speed line flow", "reference temperature"),
        ),
        Feed(
            parameter="map_pressure",
            value=lambda own, setting: own.condition("speed line flow", "reference pressure"),
        ),
    ),
    cautions=(
        "H",
        "R",
    ),
)
