"""What dyno records say of an engine and what follows, as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ui import format as shown
from ui.engine_text import WORDS
from ui.format import listed

if TYPE_CHECKING:
    from graph.calibration import Calibration
    from graph.lesson import Outlook


def learn_document(car: str, found: Calibration, ahead: list[Outlook]) -> dict[str, Any]:
    """What was learnt and what follows, as JSON.

    Parameters
    ----------
    car : str
        Id of the car.
    found : Calibration
        What the records say.
    ahead : list of Outlook
        Predictions.

    Returns
    -------
    dict
        Units in the names.
    """

    def interval(value: Any, factor: float) -> dict[str, float | None]:
        high = None if value.high is None else round(value.high * factor, 3)
        return {"low": round(value.low * factor, 3), "value": round(value.median * factor, 3), "high": high}

    predictions = []
    for outlook in ahead:
        (torque_speed, torque), (power_speed, power) = outlook.torque, outlook.power
        curve = outlook.prediction
        predictions.append(
            {
                "boost_bar": None if outlook.request.boost is None else outlook.request.boost / 1e5,
                "fuel": outlook.fuel,
                "install": list(outlook.request.install),
                "power_kW": {**interval(power, 1e-3), "at_rpm": round(power_speed * 60.0)},
                "torque_Nm": {**interval(torque, 1.0), "at_rpm": round(torque_speed * 60.0)},
                "curve": {
                    "speed_rpm": listed(curve.speed, 60.0),
                    "torque_low_Nm": listed(curve.low),
                    "torque_Nm": listed(curve.median),
                    "torque_high_Nm": listed(curve.high),
                },
            }
        )
    return {
        "schema": "pinchpoint.learn/1",
        "car": car,
        "readings": int(found.residual.size),
        "estimates": [
            {
                "name": e.name,
                "factor": round(e.factor, 4),
                "low": round(e.low, 4),
                "high": round(e.high, 4),
                "prior_low": round(e.prior_low, 4),
                "prior_high": round(e.prior_high, 4),
                "learnt": e.learnt,
            }
            for e in found.estimates
        ],
        "misfit": round(found.misfit, 3),
        "cannot_tell": list(found.words),
        "predictions": predictions,
    }


def learn_text(car: str, found: Calibration, ahead: list[Outlook]) -> str:
    """What was learnt and what follows, as text.

    Parameters
    ----------
    car : str
        Id of the car.
    found : Calibration
        What the records say.
    ahead : list of Outlook
        Predictions.

    Returns
    -------
    str
        Lines.
    """
    lines = [f"{car}: {found.residual.size} readings, compared with the model as the sheets state it", ""]
    lines += [
        f"  {WORDS[e.name]:22} x {e.factor:.3f}   9 in 10: {e.low:.3f} to {e.high:.3f}   "
        f"before: {e.prior_low:.3f} to {e.prior_high:.3f}" + ("" if e.learnt else "   not learnt from these readings")
        for e in found.estimates
    ]
    if found.misfit > 2.0:
        lines += [
            "",
            f"The readings contradict the model (chi squared {found.misfit:.1f} per reading): check the sheet.",
        ]
    if found.words:
        lines += ["", *found.words]
    for outlook in ahead:
        boost = outlook.request.boost
        cap = "no boost cap" if boost is None else f"up to {shown.boost(boost)}"
        (torque_speed, torque), (power_speed, power) = outlook.torque, outlook.power
        parts = f", with {', '.join(outlook.request.install)}" if outlook.request.install else ""
        lines += [
            "",
            f"On {outlook.fuel}, {cap}{parts}, what the engine makes (limits of the parts apart):",
            f"  power  {power.median / 1e3:5.0f} kW at {power_speed * 60:5.0f} 1/min   "
            f"9 in 10: {power.low / 1e3:.0f} to {(power.high or power.median) / 1e3:.0f}",
            f"  torque {torque.median:5.0f} N·m at {torque_speed * 60:4.0f} 1/min   "
            f"9 in 10: {torque.low:.0f} to {torque.high or torque.median:.0f}",
        ]
    return "\n".join(lines) + "\n"
