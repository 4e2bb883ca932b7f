"""Supply wiring of the tank pump: voltage drop under load."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import pump
from graph.quantity import Quantity

KIND = Kind(
    name="pump_wiring",
    label="pump wiring",
    area="Fuel",
    does="brings current to the fuel pump in the tank",
    synonyms=(
        "fuel pump wiring",
        "wiring",
        "pumpenverkabelung",
    ),
    ratings=(
        RatingSpec(
            name="current",
            quantity=Quantity.CURRENT,
            label="current at the stated voltage drop",
            plausible=(2.5, 100.0),
            conditions=(ConditionSpec(name="voltage drop", quantity=Quantity.VOLTAGE, default=0.5),),
        ),
    ),
    limits=(
        LimitRule(
            name="voltage drop on the way to the pump",
            rating="current",
            axis=Axis.CURRENT,
            quantity=Quantity.CURRENT,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: pump.current_at(
                setting.shared["pump current"],
                pump.volume_flow(op.fuel_flow, setting.fuel.density, setting.constant("jet pump flow")),
                setting.shared["pump flow"],
            ),
            capacity=lambda op, setting, own: own.value("current"),
            why="every lost volt costs the pump about a tenth of its flow",
            consequence="looks like a weak pump, worse at low alternator output",
            source="a drop above 0.5 V under load is a finding (trade practice, from memory)",
            costs_power_only=True,
            needs=("pump current", "pump flow"),
        ),
    ),
    links=(
        Feed(parameter="wiring current", value=lambda own, setting: own.value("current")),
        Feed(parameter="wiring drop", value=lambda own, setting: own.condition("current", "voltage drop")),
    ),
    cautions=(
        "F",
        "E",
    ),
)
