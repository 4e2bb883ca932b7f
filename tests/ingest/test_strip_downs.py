"""The sheet of strip-downs: good rows load, each defect is named by its row and column."""

from __future__ import annotations

import pytest

from graph.errors import UsageError
from ingest.operation import read_operations

HEAD = "Operation;Job;Hours;Does it;Note\n"


def written(tmp_path, text):
    path = tmp_path / "operations.csv"
    path.write_text(text, "utf-8")
    return path


def test_row_with_a_decimal_comma(tmp_path):
    rows, problems = read_operations(written(tmp_path, HEAD + "bumper off;intercooler;1,5;yes;\n"))
    assert problems == ()
    assert (rows[0].operation, rows[0].job, rows[0].duration, rows[0].does) == (
        "bumper off",
        "intercooler",
        5400.0,
        True,
    )


def test_part_number_in_place_of_a_slot(tmp_path):
    rows, _ = read_operations(written(tmp_path, HEAD + "engine out;PY-2114;5;no;\n"))
    assert (rows[0].job, rows[0].does) == ("PY-2114", False)


@pytest.mark.parametrize(
    ("row", "column"),
    [
        (";intercooler;1;yes;", "Operation"),
        ("bumper off;;1;yes;", "Job"),
        ("bumper off;sunroof;1;yes;", "Job"),
        ("bumper off;intercooler;soon;yes;", "Hours"),
        ("bumper off;intercooler;-1;yes;", "Hours"),
        ("bumper off;intercooler;;yes;", "Hours"),
        ("bumper off;intercooler;1;perhaps;", "Does it"),
    ],
)
def test_defect_is_named_by_row_and_column(row, column, tmp_path):
    text = HEAD + "bumper off;oil cooler;1;yes;\n" + row + "\n"
    rows, problems = read_operations(written(tmp_path, text))
    assert len(rows) == 1
    assert [(p.row, p.column) for p in problems] == [(3, column)]


def test_column_that_is_missing(tmp_path):
    with pytest.raises(UsageError, match="Hours"):
        read_operations(written(tmp_path, "Operation;Job;Does it\n"))


def test_file_that_is_not_there(tmp_path):
    with pytest.raises(UsageError, match="cannot be read"):
        read_operations(tmp_path / "none.csv")
