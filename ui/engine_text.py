"""What dyno records taught of an engine, as a sentence and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from graph.learnt import Learnt
    from graph.report import Report
    from graph.store import Lesson

#: Words of the learnt factors.
WORDS = {
    "breathing": "breathing",
    "knock_gain": "resistance to knock",
    "friction_gain": "friction",
    "compressor_efficiency": "efficiency of the compressor",
    "turbine_efficiency": "efficiency of the turbine",
    "cooler_effectiveness": "effectiveness of the charge cooler",
}
#: Half width of nine cases in ten [standard deviations].
NINE_IN_TEN = 1.6448536269514722


def factors(learnt: Learnt) -> list[tuple[str, float, float, float]]:
    """Name, most likely factor, and the limits of nine cases in ten [1].

    Parameters
    ----------
    learnt : Learnt
        As kept.

    Returns
    -------
    list of (str, float, float, float)
        In the order in which they were learnt.
    """
    found = []
    for name, mean in zip(learnt.fields, learnt.mean, strict=True):
        wide = NINE_IN_TEN * learnt.spread(name)
        found.append((name, float(np.exp(mean)), float(np.exp(mean - wide)), float(np.exp(mean + wide))))
    return found


def learnt_lines(report: Report, hint: str = "") -> list[str]:
    """What a check says of the engine, where dyno records of the car taught something.

    Parameters
    ----------
    report : Report
        Of a check.
    hint : str
        How to leave out what was learnt, to go with the comparison.

    Returns
    -------
    list of str
        Sentences.
    """
    from ui.format import kilowatts, power_unit

    learnt, stated = report.build.learnt, report.stated
    if learnt is None:
        return []
    moved = ", ".join(f"{WORDS[name]} x {value:.2f}" for name, value, _, _ in factors(learnt))
    said = [f"The engine was learnt from {_records(learnt)} on {learnt.at[:10]} by {learnt.by}: {moved}."]
    if stated is not None:
        unit = power_unit()
        said.append(
            f"As the platform's sheet states it, the car would make {kilowatts(stated.makes)} {unit} and not "
            f"{kilowatts(report.makes.power)}, and carry {kilowatts(stated.carries)} {unit} and not "
            f"{kilowatts(report.carries)}{f'; {hint}' if hint else ''}."
        )
    if report.target.fuel.name not in learnt.fuels:
        said.append(
            f"It was learnt on {', '.join(learnt.fuels)}: on {report.target.fuel.name} its knock is carried over, not measured."
        )
    return said


def _records(learnt: Learnt) -> str:
    from ui.format import counted

    count = len(learnt.records)
    return f"{counted(count, 'record')} ({counted(learnt.readings, 'reading')})"


def learnt_document(report: Report) -> dict[str, Any] | None:
    """The same as JSON; None where nothing was learnt.

    Parameters
    ----------
    report : Report
        Of a check.

    Returns
    -------
    dict or None
        Units in the names.
    """
    learnt, stated = report.build.learnt, report.stated
    if learnt is None:
        return None
    return {
        **kept_document(learnt),
        "as_stated": None
        if stated is None
        else {"makes_kW": round(stated.makes / 1e3, 3), "carries_kW": round(stated.carries / 1e3, 3)},
    }


def kept_document(learnt: Learnt) -> dict[str, Any]:
    """What is kept of an engine, as JSON.

    Parameters
    ----------
    learnt : Learnt
        As kept.

    Returns
    -------
    dict
        Factors with the limits of nine cases in ten, and the evidence.
    """
    return {
        "at": learnt.at,
        "by": learnt.by,
        "readings": learnt.readings,
        "records": list(learnt.records),
        "fuels": list(learnt.fuels),
        "factors": [
            {"name": name, "factor": round(value, 4), "low": round(low, 4), "high": round(high, 4)}
            for name, value, low, high in factors(learnt)
        ],
        "cannot_tell": list(learnt.words),
    }


def history_lines(car: str, lessons: tuple[Lesson, ...]) -> list[str]:
    """Every revision of what is known of one engine.

    Parameters
    ----------
    car : str
        Id of the car.
    lessons : tuple of Lesson
        Oldest first.

    Returns
    -------
    list of str
        One line each, with its records below it.
    """
    if not lessons:
        return [f"{car}: nothing is kept of its engine; it counts as the platform's sheet states it"]
    lines = []
    for number, lesson in enumerate(lessons, 1):
        if lesson.learnt is None:
            lines.append(f"{number}  {lesson.at}  {lesson.by}: withdrawn, {lesson.reason}")
            continue
        moved = ", ".join(
            f"{WORDS[name]} x {value:.3f} ({low:.3f} to {high:.3f})"
            for name, value, low, high in factors(lesson.learnt)
        )
        lines.append(f"{number}  {lesson.at}  {lesson.by}: {moved}")
        lines += [f"   {record}" for record in lesson.learnt.records]
    return lines


def history_document(car: str, lessons: tuple[Lesson, ...]) -> dict[str, Any]:
    """The same as JSON.

    Parameters
    ----------
    car : str
        Id of the car.
    lessons : tuple of Lesson
        Oldest first.

    Returns
    -------
    dict
        One entry for each revision.
    """
    return {
        "schema": "pinchpoint.learn/1",
        "car": car,
        "kept": [
            {
                "revision": number,
                "at": lesson.at,
                "by": lesson.by,
                "withdrawn": lesson.reason or None,
                "digests": list(lesson.digests),
                "engine": None if lesson.learnt is None else kept_document(lesson.learnt),
            }
            for number, lesson in enumerate(lessons, 1)
        ],
    }
