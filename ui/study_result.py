"""The results of a study: a journal that outlives a stop, and the table made from it.

The journal lies beside the table as long as the study is not finished: a first line with the study's fingerprint, then
one line for each chunk with its check sum. A line that a stop cut short is dropped and its chunk assessed again.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from graph.errors import UsageError
from graph.quantity import Quantity
from graph.study import Case, Outcome, Study
from ingest.parts_sheet import harmless
from ui.format import in_unit

FORMATS = (".csv", ".parquet")
#: Column -> (field of the request, quantity) for what is asked.
ASKED: Mapping[str, tuple[str, Quantity]] = {
    "power_kW": ("power", Quantity.POWER),
    "boost_bar": ("boost", Quantity.GAUGE_PRESSURE),
    "torque_Nm": ("torque", Quantity.TORQUE),
    "power_speed_rpm": ("power_speed", Quantity.ROTATIONAL_SPEED),
    "ambient_C": ("ambient", Quantity.TEMPERATURE),
    "pressure_bar": ("pressure", Quantity.ABSOLUTE_PRESSURE),
}
#: Column -> (field of the outcome, quantity or None) for what is answered.
ANSWERED: Mapping[str, tuple[str, Quantity | None]] = {
    "reachable": ("reachable", None),
    "carries_kW": ("carries", Quantity.POWER),
    "carries_low_kW": ("carries_low", Quantity.POWER),
    "carries_high_kW": ("carries_high", Quantity.POWER),
    "holds_probability": ("holds_probability", None),
    "makes_kW": ("makes", Quantity.POWER),
    "makes_Nm": ("torque", Quantity.TORQUE),
    "makes_at_bar": ("boost", Quantity.GAUGE_PRESSURE),
    "knock_limited": ("knock_limited", None),
    "ended_by": ("ended_by", None),
    "weakest_slot": ("weakest", None),
    "weakest_part": ("weakest_part", None),
    "weakest_ceiling_kW": ("weakest_ceiling", Quantity.POWER),
    "exceeded": ("exceeded", None),
    "unknown": ("unknown", None),
    "refused": ("refused", None),
}


class Journal:
    """Chunks of one study as they are finished.

    Parameters
    ----------
    path : Path
        Where it lies.
    fingerprint : str
        Of the study.
    """

    def __init__(self, path: Path, fingerprint: str) -> None:
        self.path = path
        self.head = json.dumps({"study": fingerprint}) + "\n"

    def open(self) -> list[list[Outcome]]:
        """Begin, or go on where an earlier run was stopped.

        Returns
        -------
        list of list of Outcome
            The chunks that are known, from the first on without a gap.

        Raises
        ------
        UsageError
            The journal cannot be written.
        """
        try:
            text = self.path.read_bytes() if self.path.is_file() else b""
            lines = text.splitlines(keepends=True)
            known: list[list[Outcome]] = []
            good = 0
            if lines and lines[0] == self.head.encode():
                good = len(lines[0])
                for line in lines[1:]:
                    chunk = _chunk_of(line, len(known))
                    if chunk is None:
                        break
                    known.append(chunk)
                    good += len(line)
            if good:
                os.truncate(self.path, good)
            else:
                self._write(self.head, "w")
        except OSError as error:
            raise _unwritable(self.path, error) from None
        return known

    def append(self, number: int, outcomes: Sequence[Outcome]) -> None:
        """Write a finished chunk, on the disk before the next is taken."""
        said = json.dumps([asdict(o) for o in outcomes], ensure_ascii=False)
        line = json.dumps({"chunk": number, "sum": _sum(said), "outcomes": said}, ensure_ascii=True)
        try:
            self._write(line + "\n", "a")
        except OSError as error:
            raise _unwritable(self.path, error) from None

    def _write(self, text: str, mode: str) -> None:
        with self.path.open(mode, encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())

    def close(self) -> None:
        """Remove it once the table stands."""
        with suppress(OSError):
            self.path.unlink()


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()


def _chunk_of(line: bytes, number: int) -> list[Outcome] | None:
    """The outcomes of a line; None where it was cut short or is another's."""
    try:
        read = json.loads(line) if line.endswith(b"\n") else None
        if not isinstance(read, dict) or read["chunk"] != number or read["sum"] != _sum(read["outcomes"]):
            return None
        return [
            Outcome(**{**o, "exceeded": tuple(o["exceeded"]), "unknown": tuple(o["unknown"])})
            for o in json.loads(read["outcomes"])
        ]
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def _unwritable(path: Path, error: OSError) -> UsageError:
    return UsageError(f"{path} cannot be written ({error.strerror}); what was finished is kept, repeat the command")


def rows(study: Study, outcomes: Sequence[Outcome]) -> Iterator[dict[str, Any]]:
    """Rows of the table.

    Parameters
    ----------
    study : Study
        What was asked.
    outcomes : sequence of Outcome
        One for each case.

    Yields
    ------
    dict of str to value
        By column, units in the names.
    """
    for number, (case, found) in enumerate(zip(study.cases, outcomes, strict=True), start=1):
        yield {**_asked(number, case), **_answered(found)}


def _asked(number: int, case: Case) -> dict[str, Any]:
    request = case.request
    return {
        "case": number,
        "car": case.car,
        "build": case.build,
        "install": ";".join(request.install),
        "fuel": request.fuel or "",
        "day": case.day,
        **{column: _plain(in_unit(getattr(request, name), what)) for column, (name, what) in ASKED.items()},
        "altitude_m": request.altitude,
        "full_load_s": request.duration,
    }


def _plain(value: float | None) -> float | None:
    """A number as it was asked, without the last digits of its conversion."""
    return None if value is None else float(f"{value:.12g}")


def _answered(found: Outcome) -> dict[str, Any]:
    def cell(name: str, what: Quantity | None) -> Any:
        value = getattr(found, name)
        if what is not None:
            return in_unit(value, what)
        if name == "reachable":
            return "" if found.refused else {True: "yes", False: "no", None: "not known"}[value]
        if isinstance(value, bool):
            return "yes" if value else "no"
        return ";".join(value) if isinstance(value, tuple) else value

    return {column: cell(name, what) for column, (name, what) in ANSWERED.items()}


def write_table(study: Study, outcomes: Sequence[Outcome], path: Path) -> None:
    """Write the results; every answer with all its digits.

    Parameters
    ----------
    study : Study
        What was asked.
    outcomes : sequence of Outcome
        One for each case.
    path : Path
        A ``.csv`` or ``.parquet`` file; it is replaced as a whole.

    Raises
    ------
    UsageError
        The file cannot be written.
    """
    beside = path.with_name(f"{path.name}.new")
    try:
        if path.suffix.lower() == ".parquet":
            _write_parquet(study, outcomes, beside)
        else:
            out = io.StringIO()
            writer: Any = None
            for row in rows(study, outcomes):
                if writer is None:
                    writer = csv.writer(out, lineterminator="\r\n")
                    writer.writerow(row)
                writer.writerow([_csv_cell(value) for value in row.values()])
            beside.write_bytes(out.getvalue().encode("utf-8", "backslashreplace"))
        beside.replace(path)
    except OSError as error:
        raise _unwritable(path, error) from None


def _csv_cell(value: Any) -> str:
    return repr(value) if isinstance(value, float) else harmless(value)


def _write_parquet(study: Study, outcomes: Sequence[Outcome], path: Path) -> None:
    import pyarrow
    import pyarrow.parquet

    found = list(rows(study, outcomes))
    texts = {"car", "build", "install", "fuel", "day"} | {c for c, (_, what) in ANSWERED.items() if what is None}
    texts -= {"holds_probability"}
    schema = pyarrow.schema(
        [
            (name, pyarrow.int64() if name == "case" else pyarrow.string() if name in texts else pyarrow.float64())
            for name in found[0]
        ]
    )
    pyarrow.parquet.write_table(pyarrow.Table.from_pylist(found, schema=schema), path)
