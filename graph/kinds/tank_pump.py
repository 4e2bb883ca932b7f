"""Pump in the tank: fuel per hour at the pressure and the voltage it really sees."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import fuel_chain, parallel, pump
from graph.quantity import Quantity

KIND = Kind(
    name="tank_pump",
    label="tank pump",
    area="Fuel",
    does="lifts the fuel out of the tank",
    synonyms=(
        "fuel pump",
        "in-tank pump",
        "low-pressure pump",
        "lpfp",
        "vorfoerderpumpe",
        "kraftstoffpumpe",
        "tankpumpe",
        "benzinpumpe",
    ),
    ratings=(
        RatingSpec(
            name="flow",
            quantity=Quantity.VOLUME_FLOW,
            label="flow at the stated pressure and voltage",
            plausible=(1.0e-5, 2.5e-4),
            conditions=(
                ConditionSpec(name="pressure", quantity=Quantity.GAUGE_PRESSURE, default=5.5e5),
                ConditionSpec(name="voltage", quantity=Quantity.VOLTAGE, default=13.2),
                ConditionSpec(name="temperature", quantity=Quantity.TEMPERATURE, default=293.15),
                ConditionSpec(name="fluid", quantity=None, default="petrol", words=("petrol", "n-heptane", "ethanol")),
            ),
        ),
        RatingSpec(
            name="current",
            quantity=Quantity.CURRENT,
            label="current at the rated flow and pressure",
            plausible=(2.5, 60.0),
            required=False,
        ),
    ),
    limits=(
        LimitRule(
            name="fuel per hour from the tank",
            rating="flow",
            axis=Axis.FUEL_PER_HOUR,
            quantity=Quantity.VOLUME_FLOW,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: pump.volume_flow(
                op.fuel_flow, setting.fuel.density, setting.constant("jet pump flow")
            ),
            capacity=lambda op, setting, own: fuel_chain.Chain.of(setting).tank_flow(
                parallel.together(own.value("flow"), own.count),
                own.condition("flow", "pressure"),
                own.condition("flow", "voltage"),
                op.fuel_flow,
            ),
            why="fuel per hour follows power; the jet pump takes its share first",
            consequence="low-side pressure falls at high power, the mixture goes lean late in the pull",
            source="continuity; flow over voltage and pressure near the rated point",
        ),
    ),
    offers=(
        Feed(parameter="pump current", value=lambda own, setting: parallel.together(own.value("current"), own.count)),
        Feed(parameter="pump flow", value=lambda own, setting: parallel.together(own.value("flow"), own.count)),
    ),
    links=(
        Feed(parameter="tank pump flow", value=lambda own, setting: parallel.together(own.value("flow"), own.count)),
        Feed(parameter="tank pump pressure", value=lambda own, setting: own.condition("flow", "pressure")),
        Feed(parameter="tank pump voltage", value=lambda own, setting: own.condition("flow", "voltage")),
        Feed(
            parameter="tank pump current", value=lambda own, setting: parallel.together(own.value("current"), own.count)
        ),
    ),
    cautions=(
        "F",
        "T",
        "E",
    ),
)
