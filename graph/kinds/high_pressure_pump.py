"""Cam-driven high-pressure pump: fuel per revolution, so a torque."""

from graph.limit import Axis, ConditionSpec, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import fuel_chain, fuel_share, pump
from graph.quantity import Quantity

KIND = Kind(
    name="high_pressure_pump",
    label="high-pressure pump",
    area="Fuel",
    does="lifts the fuel to the pressure that the injectors need",
    synonyms=(
        "hp pump",
        "hpfp",
        "high pressure pump",
        "hochdruckpumpe",
    ),
    ratings=(
        RatingSpec(
            name="displacement",
            quantity=Quantity.VOLUME,
            label="volume per stroke",
            plausible=(3.5e-8, 1.5e-6),
            conditions=(ConditionSpec(name="pressure", quantity=Quantity.GAUGE_PRESSURE, default=200.0e5),),
        ),
        RatingSpec(
            name="efficiency",
            quantity=Quantity.RATIO,
            label="volumetric efficiency at the stated pressure",
            plausible=(0.4, 1.0),
            conditions=(ConditionSpec(name="pressure", quantity=Quantity.GAUGE_PRESSURE, default=200.0e5),),
            required=False,
            default=0.85,
            default_source="0.85 to 0.90 up to 5000 1/min, 0.80 to 0.85 above (assumption)",
        ),
    ),
    limits=(
        LimitRule(
            name="fuel per revolution of the cam",
            rating="displacement",
            axis=Axis.FUEL_PER_REVOLUTION,
            quantity=Quantity.MASS_FLOW,
            kind=LimitKind.HARD,
            demand=lambda op, setting, own: fuel_share.direct(op.fuel_flow, setting.shared),
            capacity=lambda op, setting, own: pump.filled(
                pump.cam_pump_flow(
                    own.value("displacement"),
                    setting.constant("pump lobes"),
                    op.speed,
                    own.value("efficiency"),
                    setting.fuel.density,
                ),
                fuel_chain.Chain.of(setting).pump_filling(op.fuel_flow, op.speed),
            ),
            why="a pump on the cam delivers per revolution, fuel per revolution is torque",
            consequence="rail pressure falls below its target at the torque peak while the tank side is healthy",
            source="continuity; the cam turns at half engine speed",
        ),
    ),
    links=(
        Feed(
            parameter="cam pump delivery",
            value=lambda own, setting: pump.delivery_per_turn(
                own.value("displacement"), setting.constant("pump lobes"), own.value("efficiency")
            ),
        ),
    ),
    cautions=(
        "F",
        "J",
    ),
)
