"""A study: thousands of assessments as one record, and what each of them says in short."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from graph.errors import OutOfRange, PinchpointError, UsageError
from graph.hindsight import with_hindsight
from graph.model import Build, Car, Part, Platform, Target
from graph.report import Report, Verdict
from graph.sampling import SEED
from graph.service import Request, View, aim, assemble, find_record, known_car, refuse_out_of_range, relevant

#: Assessments of a chunk: a chunk should take a second or more, since a cluster spends 2 ms on each.
CHUNK = 20
LARGEST_CHUNK = 1000
MOST_CASES = 1_000_000
#: What a build of a study depends on: car, parts taken as fitted, fuel, engine as stated.
_Key = tuple[str, tuple[str, ...], str | None, bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One assessment of a study.

    Parameters
    ----------
    car : str
        Id of the car.
    request : Request
        What is asked of it, parts to take as fitted among it [SI].
    build : str
        What the study calls the set of parts.
    day : str
        What the study calls the weather.
    """

    car: str
    request: Request
    build: str = ""
    day: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A case with its records resolved; without a build and target where it cannot be asked."""

    build: Build | None = None
    target: Target | None = None
    refused: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """What is to be assessed.

    Parameters
    ----------
    cases : tuple of Case
        As asked.
    tasks : tuple of Task
        The same, resolved.
    samples : int
        Joint samples of each assessment [1]; 0 for the stated values alone.
    seed : int
        Of the samples, the same for each.
    chunk : int
        Assessments that one worker takes at a time [1].
    """

    cases: tuple[Case, ...]
    tasks: tuple[Task, ...]
    samples: int = 0
    seed: int = SEED
    chunk: int = CHUNK

    @property
    def chunks(self) -> int:
        """Number of chunks [1]."""
        return -(-len(self.tasks) // self.chunk)

    def part(self, number: int) -> tuple[Task, ...]:
        """The tasks of one chunk, counted from 0."""
        return self.tasks[number * self.chunk : (number + 1) * self.chunk]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one assessment says, in short.

    Parameters
    ----------
    reachable : bool or None
        None where something unknown may lower the answer.
    carries, carries_low, carries_high : float or None
        Power that the car carries, its 5th and 95th percentile [W]; the percentiles are None without samples.
    holds_probability : float or None
        Share of samples that hold the target [1]; None without samples.
    makes : float or None
        Power at the boost cap [W].
    torque, boost : float or None
        On the way to it [N.m], [Pa gauge].
    knock_limited : bool or None
        True if knock sets the phasing there.
    ended_by : str
        What ends it.
    weakest, weakest_part : str
        Slot and part with the lowest ceiling.
    weakest_ceiling : float or None
        That ceiling, alone [W].
    exceeded : tuple of str
        Slots with a limit that is exceeded at the target.
    unknown : tuple of str
        Slots of which something is not known.
    refused : str
        Why the question cannot be asked; all else is empty then.
    """

    reachable: bool | None = None
    carries: float | None = None
    carries_low: float | None = None
    carries_high: float | None = None
    holds_probability: float | None = None
    makes: float | None = None
    torque: float | None = None
    boost: float | None = None
    knock_limited: bool | None = None
    ended_by: str = ""
    weakest: str = ""
    weakest_part: str = ""
    weakest_ceiling: float | None = None
    exceeded: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    refused: str = ""


@dataclass(slots=True)
class _Shelf:
    """Records of a book, looked up once for each car."""

    view: View
    catalogues: dict[_Key, dict[str, Part]] = field(default_factory=dict)
    builds: dict[_Key, Build] = field(default_factory=dict)
    cars: Mapping[str, Car] = field(default_factory=dict)
    platforms: tuple[Platform, ...] = ()

    def __post_init__(self) -> None:
        self.cars = {c.id: c for c in self.view.cars()}
        self.platforms = self.view.platforms()

    def task(self, case: Case) -> Task:
        request = case.request
        try:
            refuse_out_of_range(request)
            car = known_car(self.cars.values(), case.car, request)
            platform = find_record("platform", car.platform, self.platforms)
            key = (car.id, request.install, request.fuel, request.as_stated)
            if key not in self.catalogues:
                named = (*request.install, *filter(None, (request.fuel,)))
                book = relevant(self.view, car, platform, named)
                self.catalogues[key] = with_hindsight(book, self.view.trials(), car, platform)
            catalogue = self.catalogues[key]
            if key not in self.builds:
                self.builds[key] = assemble(car, platform, catalogue, request.install, request.fuel)
            return Task(build=self.builds[key], target=aim(request, car, catalogue))
        except PinchpointError as error:
            return Task(refused=str(error))


def design(view: View, cases: Iterable[Case], *, samples: int = 0, seed: int = SEED, chunk: int = CHUNK) -> Study:
    """Resolve the cases of a study against a book.

    Parameters
    ----------
    view : View
        The book.
    cases : iterable of Case
        What is asked [SI].
    samples : int
        Joint samples of each assessment [1].
    seed : int
        Of the samples.
    chunk : int
        Assessments that one worker takes at a time [1].

    Returns
    -------
    Study
        A case that cannot be asked is in it with its reason.

    Raises
    ------
    UsageError
        There is nothing to assess.
    OutOfRange
        Too many cases, samples or assessments in a chunk.
    """
    listed = tuple(cases)
    if not listed:
        raise UsageError("the study asks nothing; name at least one car and one power")
    for what, found, low, high in (
        ("cases of a study", len(listed), 1, MOST_CASES),
        ("samples of a study", samples, 0, 20_000),
        ("chunk of a study", chunk, 1, LARGEST_CHUNK),
    ):
        if not low <= found <= high:
            raise OutOfRange(what, f"{found}", f"{low} to {high}", "choose a number within that range")
    shelf = _Shelf(view)
    return Study(cases=listed, tasks=tuple(map(shelf.task, listed)), samples=samples, seed=seed, chunk=chunk)


def fingerprint(study: Study, version: str) -> str:
    """What the results of a study depend on, in 64 hexadecimal digits.

    Parameters
    ----------
    study : Study
        Cases with every record that they use.
    version : str
        Of the program.

    Returns
    -------
    str
        Equal for the same questions to the same records by the same program and the same NumPy.
    """
    digest = hashlib.sha256(f"{version} {np.__version__} {study.samples} {study.seed} {study.chunk}".encode())
    said: dict[int, bytes] = {}
    for case, task in zip(study.cases, study.tasks, strict=True):
        if id(task.build) not in said:
            said[id(task.build)] = hashlib.sha256(repr(task.build).encode("utf-8", "backslashreplace")).digest()
        digest.update(repr((case, task.target, task.refused)).encode("utf-8", "backslashreplace"))
        digest.update(said[id(task.build)])
    return digest.hexdigest()


def outcome(report: Report) -> Outcome:
    """What a report says, in short.

    Parameters
    ----------
    report : Report
        Of one assessment.

    Returns
    -------
    Outcome
        [SI]
    """
    sampled, weakest, interval = report.samples > 0, report.weakest, report.carries_interval
    return Outcome(
        reachable=report.reachable,
        carries=report.carries,
        carries_low=interval.low if sampled else None,
        carries_high=interval.high if sampled else None,
        holds_probability=report.holds_probability if sampled else None,
        makes=report.makes.power,
        torque=report.makes.torque,
        boost=report.makes.boost,
        knock_limited=report.makes.knock_limited,
        ended_by=report.makes.cause,
        weakest="" if weakest is None else weakest.slot,
        weakest_part="" if weakest is None or weakest.part is None else weakest.part,
        weakest_ceiling=None if weakest is None else weakest.ceiling,
        exceeded=tuple(dict.fromkeys(f.slot for f in report.findings if f.verdict is Verdict.EXCEEDED)),
        unknown=tuple(dict.fromkeys(u.slot for u in report.unknown)),
    )
