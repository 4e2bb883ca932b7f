"""What only shows when all sheets are read: names that lead nowhere, parts in the wrong slot, codes nobody has."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from graph.errors import UnknownName, UsageError
from graph.kinds import discover
from graph.model import Car, Part, Platform, RelationKind
from graph.service import burned
from ingest.line import Line
from ingest.problem import Problem
from ingest.proportion import doubts

Origins = Mapping[tuple[str, str], Line]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Everything that names may lead to.

    Parameters
    ----------
    parts : mapping of str to Part
        Loaded parts and those of the database, by number.
    held : frozenset of str
        Numbers of parts that a sheet holds with a defect: reported already.
    platforms : mapping of str to Platform
        Loaded platforms and those of the database.
    """

    parts: Mapping[str, Part]
    held: frozenset[str]
    platforms: Mapping[str, Platform]

    def has(self, number: str) -> bool:
        """True if the number stands anywhere, even in a held row."""
        return number in self.parts or number in self.held

    def near(self, number: str) -> str:
        """Remedy for a number that leads nowhere."""
        found = get_close_matches(number, [*self.parts, *self.held], n=1, cutoff=0.8)
        meant = f"did you mean {found[0]}? " if found else ""
        return f"{meant}correct the number, or add the part to the parts book"


def check_parts(parts: Sequence[Part], known: Known, origins: Origins) -> Iterator[Problem]:
    """Requirements and codes of parts that lead nowhere.

    Parameters
    ----------
    parts : sequence of Part
        Of the sheets that were read.
    known : Known
        What names may lead to.
    origins : mapping
        Where each part stands.

    Yields
    ------
    Problem
        With the cell.
    """
    codes = {c for p in known.platforms.values() for c in (p.id, *p.codes)}
    for part in parts:
        line = origins["part", part.id]
        for relation in part.relations:
            for number in (relation.part or "").split(" | "):
                if number and not known.has(number) and relation.kind is not RelationKind.SUPERSEDES:
                    yield line.problem(
                        "requires", f"{number}, which no sheet holds", "a part of the parts book", known.near(number)
                    )
                elif number == part.id:
                    yield line.problem("requires", f"{number} itself", "another part", "delete the clause")
        for doubt in doubts(part, known.platforms):
            at = origins.get(("rating", f"{part.id} {doubt.rating}"), line)
            yield at.problem("rating", doubt.found, doubt.expected, "check the number, its unit and its decimal sign")
        unknown = [code for code in part.fits if codes and code not in codes]
        if unknown:
            yield line.problem(
                "fits",
                ", ".join(map(repr, unknown)) + (f" in {line.word('fits')!r}" if len(part.fits) > 1 else ""),
                "codes of the platforms: " + ", ".join(sorted(codes)),
                "write the codes alone, or load the platform that is meant",
            )


def check_platforms(platforms: Sequence[Platform], known: Known, origins: Mapping[str, Origins]) -> Iterator[Problem]:
    """Slots whose factory part is missing or of another kind, and slots of a gearbox that the platform lacks.

    Parameters
    ----------
    platforms : sequence of Platform
        Of the sheets that were read.
    known : Known
        What names may lead to.
    origins : mapping of str to mapping
        For each platform, where each slot stands.

    Yields
    ------
    Problem
        With the cell.
    """
    kinds = discover()
    for platform in platforms:
        for slot in platform.slots:
            line = origins[platform.id]["slot", slot.name]
            if slot.only_with is not None and slot.only_with not in platform.codes:
                yield line.problem(
                    "only_with",
                    repr(slot.only_with),
                    "a code of the platform: " + ", ".join(platform.codes),
                    "correct the code",
                )
            if slot.factory_part is None:
                continue
            part = known.parts.get(slot.factory_part)
            if not known.has(slot.factory_part):
                yield line.problem(
                    "factory_part",
                    f"{slot.factory_part}, which no sheet holds",
                    "a part of the parts book",
                    known.near(slot.factory_part),
                )
            elif part is not None and part.kind != slot.kind:
                yield line.problem(
                    "factory_part",
                    f"{part.id} ({part.name}), which goes to {kinds[part.kind].label}",
                    f"a part for {slot.name}",
                    "correct the number or the slot",
                )


def check_cars(cars: Sequence[Car], known: Known, origins: Mapping[str, Origins]) -> Iterator[Problem]:
    """Cars whose platform, codes, fuel, slots or parts lead nowhere.

    Parameters
    ----------
    cars : sequence of Car
        Of the sheets that were read.
    known : Known
        What names may lead to.
    origins : mapping of str to mapping
        For each car, where its rows stand.

    Yields
    ------
    Problem
        With the cell.
    """
    kinds = discover()
    for car in cars:
        at = origins[car.id]
        platform = known.platforms.get(car.platform)
        if platform is None:
            yield at["head", "platform"].problem(
                "rating", f"{car.platform!r}, which no sheet holds", "a platform: " + (", ".join(known.platforms) or "none yet"), "load its sheets, or correct the name"
            )  # fmt: skip
        else:
            for code in car.codes:
                if code not in platform.codes:
                    yield _head(at, code).problem(
                        "rating", repr(code), "a code of the platform: " + ", ".join(platform.codes), "correct the code"
                    )
        if car.fuel is not None and known.parts:
            try:
                burned(car.fuel, known.parts)
            except UnknownName as unknown:
                yield at["head", "fuel"].problem("rating", repr(car.fuel), str(unknown), "use one of these names")
            except UsageError:
                pass  # the fuel is there and lacks an octane number: reported in its own row
        for installed in car.installed:
            line = at["installed", installed.slot]
            if platform is not None and platform.slot(installed.slot) is None:
                yield line.problem(
                    "slot", installed.slot, f"a slot of {platform.id}", "correct the slot, or add it to the platform"
                )
            if installed.part is None:
                continue
            part = known.parts.get(installed.part)
            if not known.has(installed.part):
                yield line.problem(
                    "part",
                    f"{installed.part}, which no sheet holds",
                    "a part of the parts book",
                    known.near(installed.part),
                )
            elif part is not None and kinds[part.kind].label != installed.slot:
                yield line.problem(
                    "part", f"{part.id} ({part.name}), which goes to {kinds[part.kind].label}", f"a part for {installed.slot}", "correct the number or the slot"
                )  # fmt: skip


def _head(at: Origins, code: str) -> Line:
    """The row of the head that states a code."""
    rows = [at["head", name] for name in ("gearbox", "engine", "codes") if ("head", name) in at]
    return next(row for row in rows if code in row.word("rating"))
