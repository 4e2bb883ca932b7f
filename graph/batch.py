"""A study assessed in chunks, on one machine or on a cluster, the same bits whatever the workers.

The chunks depend on the study alone and each is judged by one worker with one thread, so that no sum is ever formed in
another order. Results come back in the order of the study.
"""

from __future__ import annotations

import copyreg
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from types import MappingProxyType
from typing import Any

import joblib
import threadpoolctl

from graph.check import check
from graph.errors import OutOfRange, PinchpointError, UsageError
from graph.kinds import discover
from graph.memory import Memory
from graph.study import Outcome, Study, Task, outcome

MOST_WORKERS = 1024


def _read_only(members: dict[str, Any]) -> MappingProxyType[str, Any]:
    return MappingProxyType(members)


# A read-only mapping goes to a worker as the dictionary that it shows.
copyreg.pickle(MappingProxyType, lambda shown: (_read_only, (dict(shown),)))


def assess_chunk(tasks: Sequence[Task], samples: int, seed: int) -> tuple[Outcome, ...]:
    """Assess the tasks of one chunk with one thread.

    Parameters
    ----------
    tasks : sequence of Task
        Neighbours of the same build, fuel and day share the engine's states.
    samples : int
        Joint samples [1].
    seed : int
        Of the samples.

    Returns
    -------
    tuple of Outcome
        One for each task.
    """
    memory = Memory()
    with threadpoolctl.threadpool_limits(limits=1):
        return tuple(_assess(task, samples, seed, memory) for task in tasks)


def _assess(task: Task, samples: int, seed: int, memory: Memory) -> Outcome:
    if task.build is None or task.target is None:
        return Outcome(refused=task.refused)
    try:
        report = check(task.build, task.target, discover(), samples=samples, seed=seed, memory=memory)
    except PinchpointError as error:
        return Outcome(refused=str(error))
    return outcome(report)


def run(study: Study, *, first: int = 0, workers: int = 1, cluster: str | None = None) -> Iterator[tuple[Outcome, ...]]:
    """Assess a study chunk by chunk.

    Parameters
    ----------
    study : Study
        What is asked.
    first : int
        Chunk to begin with, counted from 0: those before it are known [1].
    workers : int
        Processes on this machine [1].
    cluster : str or None
        Address of a Dask scheduler, or ``local`` for a cluster of `workers` processes on this machine.

    Yields
    ------
    tuple of Outcome
        One chunk, in the order of the study.

    Raises
    ------
    OutOfRange
        The number of workers.
    UsageError
        The cluster cannot be reached, or its library is not installed.
    """
    if not 1 <= workers <= MOST_WORKERS:
        raise OutOfRange("workers", f"{workers}", f"1 to {MOST_WORKERS}", "choose a number within that range")
    calls = (joblib.delayed(assess_chunk)(study.part(n), study.samples, study.seed) for n in range(first, study.chunks))
    with _backend(workers, cluster) as chosen:
        yield from joblib.Parallel(return_as="generator", batch_size=1, pre_dispatch="2*n_jobs", **chosen)(calls)


@contextmanager
def _backend(workers: int, cluster: str | None) -> Iterator[dict[str, Any]]:
    """Where the chunks are assessed."""
    if cluster is None:
        yield {"n_jobs": workers, "backend": "loky"}
        return
    try:
        from distributed import Client, LocalCluster
    except ImportError:
        raise UsageError("a cluster needs Dask; install the program with its extra 'cluster'") from None
    if cluster == "local":
        with (
            LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as here,  # type: ignore[no-untyped-call]
            Client(here) as client,  # type: ignore[no-untyped-call]
            joblib.parallel_config(backend="dask", client=client),
        ):
            yield {"n_jobs": -1}
        return
    try:
        client = Client(cluster, timeout=10)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise UsageError(f"no cluster answers at {cluster!r} ({error}); check the address of its scheduler") from None
    with client, joblib.parallel_config(backend="dask", client=client):
        yield {"n_jobs": -1}
