"""Controller of the tank pump: current against heat over time."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pump
from graph.quantity import Quantity

KIND = Kind(
    name="pump_controller",
    label="pump controller",
    area="Fuel",
    does="feeds the fuel pump in the tank with as much current as it needs",
    synonyms=(
        "fuel pump controller",
        "pump control module",
        "pumpensteuergeraet",
    ),
    ratings=(
        RatingSpec(
            name="current",
            quantity=Quantity.CURRENT,
            label="continuous current",
            plausible=(3.0, 80.0),
            conditions=(ConditionSpec(name="case temperature", quantity=Quantity.TEMPERATURE, default=333.15),),
        ),
        RatingSpec(
            name="time constant",
            quantity=Quantity.DURATION,
            label="time constant of the case",
            plausible=(30.0, 7200.0),
            required=False,
            default=540.0,
            default_source="warming of a small cast case seen in endurance logs; assumption",
        ),
    ),
    limits=(
        LimitRule(
            name="current through the pump controller",
            rating="current",
            axis=Axis.HEAT,
            quantity=Quantity.CURRENT,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: pump.current_at(
                setting.shared["pump current"],
                pump.volume_flow(op.fuel_flow, setting.fuel.density, setting.constant("jet pump flow")),
                setting.shared["pump flow"],
            ),
            capacity=lambda op, setting, own: pump.allowed_current(
                own.value("current"), setting.duration, own.value("time constant")
            ),
            why="the switch heats with current squared; a short pull is carried by its thermal mass, a long one is not",
            consequence="it derates or drops out when hot, pressure sags after minutes and comes back after a rest",
            source="first-order heating with loss proportional to current squared",
            needs=("pump current", "pump flow"),
        ),
    ),
    links=(
        Feed(
            parameter="controller current",
            value=lambda own, setting: pump.allowed_current(
                own.value("current"), setting.duration, own.value("time constant")
            ),
        ),
    ),
    cautions=(
        "F",
        "E",
    ),
)
