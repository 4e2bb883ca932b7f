"""What is wrong in a sheet, said so that a person can put it right: where, found, expected and what to do.

Nothing is guessed at the boundary of the program: whatever cannot be read with certainty becomes one of these records.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import PurePath

from graph.errors import PinchpointError

#: Most letters of a cell that a sentence repeats [1].
LONGEST_FOUND = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One defect of a sheet.

    Parameters
    ----------
    found : str
        What stands there, as a person sees it; a long text is cut.
    expected : str
        What should stand there.
    remedy : str
        What to do about it, as an instruction.
    file : str
        The file's name or path; empty when the text did not come from a file.
    sheet : str
        The sheet's name as the spreadsheet shows it; empty for a text table.
    row : int or None
        The row's number as the spreadsheet shows it [1], counted from 1; None when the whole sheet is meant.
    column : str or None
        The column's letters as the spreadsheet shows them; None when the whole row is meant.
    """

    found: str
    expected: str
    remedy: str
    file: str = ""
    sheet: str = ""
    row: int | None = None
    column: str | None = None

    def __post_init__(self) -> None:
        if len(self.found) > LONGEST_FOUND:
            cut = f"{self.found[:LONGEST_FOUND]} ... ({len(self.found)} letters)"
            object.__setattr__(self, "found", cut)

    @property
    def where(self) -> str:
        """Return the place in words.

        Returns
        -------
        str
            The parts of the place that are known, joined by commas; empty when none is.

        Examples
        --------
        >>> Problem(found="x", expected="y", remedy="z", file="parts.xlsx", sheet="Fuel", row=12, column="F").where
        "parts.xlsx, sheet 'Fuel', row 12, column 'F'"
        """
        places: list[str] = []
        if self.file:
            places.append(PurePath(self.file).name)
        if self.sheet:
            places.append(f"sheet '{self.sheet}'")
        if self.row is not None:
            places.append(f"row {self.row}")
        if self.column is not None:
            places.append(f"column '{self.column}'")
        return ", ".join(places)

    @property
    def sentence(self) -> str:
        """Return the whole defect as one printable sentence.

        Returns
        -------
        str
            Place, found, expected and remedy.

        Examples
        --------
        >>> Problem(found="'tbc'", expected="a power", remedy="write 250 kW", row=3).sentence
        "row 3: found 'tbc', expected a power; write 250 kW"
        """
        place = f"{self.where}: " if self.where else ""
        return f"{place}found {self.found}, expected {self.expected}; {self.remedy}"

    def at(
        self,
        *,
        file: str | None = None,
        sheet: str | None = None,
        row: int | None = None,
        column: str | None = None,
    ) -> Problem:
        """Return the same defect with its place filled in.

        Parameters
        ----------
        file, sheet : str or None
            The file and the sheet; None keeps what the record has.
        row : int or None
            The row's number as shown [1]; None keeps what the record has.
        column : str or None
            The column's letters; None keeps what the record has.

        Returns
        -------
        Problem
            A new record.
        """
        return replace(
            self,
            file=self.file if file is None else file,
            sheet=self.sheet if sheet is None else sheet,
            row=self.row if row is None else row,
            column=self.column if column is None else column,
        )


class UnreadableValue(PinchpointError):
    """A cell's text cannot be read with certainty as the value that belongs there.

    Parameters
    ----------
    found : str
        What stands there, quoted, and what it was taken for.
    expected : str
        What should stand there.
    remedy : str
        What to do about it, as an instruction.
    """

    def __init__(self, found: str, expected: str, remedy: str) -> None:
        super().__init__(f"found {found}, expected {expected}; {remedy}")
        self.found = found
        self.expected = expected
        self.remedy = remedy

    def problem(self, *, file: str = "", sheet: str = "", row: int | None = None, column: str | None = None) -> Problem:
        """Return the defect as a record with its place.

        Parameters
        ----------
        file, sheet : str
            Where the text came from.
        row : int or None
            The row's number as shown [1].
        column : str or None
            The column's letters.

        Returns
        -------
        Problem
            The record for the list of defects of the file.
        """
        return Problem(
            found=self.found, expected=self.expected, remedy=self.remedy, file=file, sheet=sheet, row=row, column=column
        )


class UnreadableFile(PinchpointError):
    """A file cannot be read as a table at all.

    Parameters
    ----------
    file : str
        The file's name.
    found : str
        What it is or what is wrong with it.
    remedy : str
        What to do about it, as an instruction.
    """

    def __init__(self, file: str, found: str, remedy: str) -> None:
        super().__init__(f"{file}: {found}; {remedy}")
        self.file = file
        self.found = found
        self.remedy = remedy
