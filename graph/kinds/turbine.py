"""Turbine and its housing with the integral wastegate: how much exhaust it swallows, at what back pressure."""

from graph.limit import Axis, Feed, Kind, LimitKind, LimitRule, RatingSpec
from graph.physics import turbine
from graph.quantity import Quantity

KIND = Kind(
    name="turbine",
    label="turbine",
    area="Exhaust",
    does="takes the energy out of the exhaust gas that drives the turbocharger",
    cautions=("H",),
    synonyms=("turbine housing", "exhaust housing", "turbinengehaeuse"),
    ratings=(
        RatingSpec(
            name="flow parameter",
            quantity=Quantity.FLOW_PARAMETER,
            label="largest flow parameter, to which the ellipse law tends",
            plausible=(4.0e-6, 1.5e-4),
        ),
        RatingSpec(
            name="gate area",
            quantity=Quantity.AREA,
            label="effective area of the open wastegate",
            plausible=(4.0e-5, 2.0e-3),
        ),
        RatingSpec(
            name="inlet pressure",
            quantity=Quantity.ABSOLUTE_PRESSURE,
            label="highest absolute pressure before the turbine",
            plausible=(1.5e5, 8.0e5),
            required=False,
            default=3.6e5,
            default_source="3.5 to 4.5 bar: valve float and manifold gaskets (assumption)",
        ),
        RatingSpec(
            name="efficiency",
            quantity=Quantity.RATIO,
            label="turbine efficiency times mechanical efficiency",
            plausible=(0.3, 0.85),
            required=False,
            default=0.65,
            default_source="0.60 to 0.70, peak 0.71 (Sivertsson and Eriksson 2014 model)",
        ),
    ),
    feeds=(
        Feed(parameter="turbine_flow", value=lambda own, setting: own.value("flow parameter")),
        Feed(parameter="gate_area", value=lambda own, setting: own.value("gate area")),
        Feed(parameter="turbine_efficiency", value=lambda own, setting: own.value("efficiency")),
    ),
    limits=(
        LimitRule(
            name="pressure before the turbine",
            rating="inlet pressure",
            axis=Axis.BACK_PRESSURE,
            quantity=Quantity.ABSOLUTE_PRESSURE,
            kind=LimitKind.PROTECTIVE,
            demand=lambda op, setting, own: op.turbine_inlet_pressure,
            capacity=lambda op, setting, own: own.value("inlet pressure"),
            why="turbine and open gate together pass only so much gas; more power needs more pressure before them",
            consequence="exhaust valves are pushed open, hot gas stays in the cylinders, knock and heat follow",
            source="flow-parameter law of the turbine (Stodola ellipse) with the open gate in parallel",
        ),
        LimitRule(
            name="flow that the wastegate must pass",
            rating="gate area",
            axis=Axis.MASS_FLOW,
            quantity=Quantity.MASS_FLOW,
            kind=LimitKind.FLOOR,
            demand=lambda op, setting, own: op.gate_flow,
            capacity=lambda op, setting, own: turbine.nozzle_flow(
                own.value("gate area"),
                op.turbine_inlet_pressure,
                op.turbine_outlet_pressure,
                op.exhaust_temperature,
            ),
            why="gas that neither the turbine nor the open gate takes raises the boost by itself",
            consequence="boost creep: the boost climbs above what is asked at high speed",
            source="isentropic nozzle (Heywood, App. C)",
            no_ceiling="a floor: it sets the lowest boost that can be held, not a highest power",
        ),
    ),
)
