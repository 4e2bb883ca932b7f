"""A frontier is worked out once and then read from disk; what is read equals what was found."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from graph.plan.record import Point
from ui.kept import MOST, _folder, looked_up

ROOT = Path(__file__).resolve().parents[2]
POINTS = tuple(
    Point(
        power=power,
        total=total,
        parts=parts,
        fuel="ron98",
        holds_probability=0.9125,
        proven=True,
        carries=power + 0.1,
    )
    for power, total, parts in ((2.3e5, 570.0, ("A-1",)), (2.4e5, 1234.5678, ("A-1", "B 2")))
)


def never():
    pytest.fail("the frontier was worked out again")


def test_second_question_is_answered_from_disk(tmp_path):
    said = []
    assert looked_up("car a", lambda: POINTS, said.append, tmp_path) == POINTS
    assert said == []
    assert looked_up("car a", never, said.append, tmp_path) == POINTS
    assert said == list(POINTS)


def test_other_question_is_worked_out(tmp_path):
    looked_up("car a", lambda: POINTS, print, tmp_path)
    assert looked_up("car b", lambda: POINTS[:1], print, tmp_path) == POINTS[:1]


def cut(text):
    return text[: len(text) // 2]


def flipped(text):
    """One bit of the file is another: 1234.5678 becomes 1235.5678."""
    return text.replace("1234.5678", "1235.5678")


DAMAGE = {
    "empty": lambda _: "",
    "half": cut,
    "digit": flipped,
    "no points": lambda _: "[]",
    "no list": lambda _: "{}",
    "deep": lambda _: "[" * 100_000,
    "zeros": lambda text: "\0" * len(text),
    "not text": lambda _: b"\xff\xfe\x00",
    "a point less": lambda text: text.partition("}, ")[0] + "}]",
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_damaged_file_is_worked_out_again(damage, tmp_path):
    looked_up("car a", lambda: POINTS, print, tmp_path)
    (file,) = tmp_path.glob("*.json")
    before = file.read_text("utf-8")
    after = DAMAGE[damage](before)
    assert after != before
    file.write_bytes(after if isinstance(after, bytes) else after.encode())
    assert looked_up("car a", lambda: POINTS, never, tmp_path) == POINTS
    assert looked_up("car a", never, lambda _: None, tmp_path) == POINTS


def test_program_that_is_killed_while_it_writes_leaves_nothing_that_is_read(tmp_path):
    """It dies before the file has its name; a later one clears the rest away once it is old."""
    program = (
        "import os, pathlib, sys, ui.kept as kept\n"
        "kept.Path.replace = lambda *_: os._exit(9)\n"
        "kept.looked_up('car a', lambda: (), print, pathlib.Path(sys.argv[1]))\n"
    )
    assert subprocess.run([sys.executable, "-c", program, str(tmp_path)], check=False, cwd=ROOT).returncode == 9
    (rest,) = tmp_path.iterdir()
    assert rest.suffix == ".part"
    assert looked_up("car a", lambda: POINTS, print, tmp_path) == POINTS
    assert rest.exists(), "another program may still be writing it"
    os.utime(rest, (0.0, 0.0))
    looked_up("car b", lambda: POINTS, print, tmp_path)
    assert not rest.exists()


def test_disk_that_is_full_leaves_no_rest(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(type(tmp_path), "replace", full)
    assert looked_up("car a", lambda: POINTS, print, tmp_path) == POINTS
    assert list(tmp_path.iterdir()) == []


def test_what_goes_wrong_while_points_are_told_is_not_hidden(tmp_path):
    looked_up("car a", lambda: POINTS, print, tmp_path)

    def closed(_):
        raise BrokenPipeError

    with pytest.raises(BrokenPipeError):
        looked_up("car a", never, closed, tmp_path)


def test_frontier_without_proof_is_not_kept(tmp_path):
    from dataclasses import replace

    loose = (replace(POINTS[0], proven=False),)
    assert looked_up("car a", lambda: loose, print, tmp_path) == loose
    assert looked_up("car a", lambda: POINTS, print, tmp_path) == POINTS


def test_folder_that_cannot_be_written_does_no_harm(tmp_path):
    folder = tmp_path / "file"
    folder.write_text("not a folder", encoding="utf-8")
    assert looked_up("car a", lambda: POINTS, print, folder) == POINTS


def test_oldest_files_go(tmp_path):
    for number in range(MOST + 3):
        looked_up(f"car {number}", lambda: POINTS, print, tmp_path)
    assert len(list(tmp_path.glob("*.json"))) == MOST


def test_tests_keep_nothing_in_the_cache_of_the_user(tmp_path_factory):
    """Neither here nor in programs that a test starts."""
    told = [sys.executable, "-c", "from platformdirs import user_cache_path; print(user_cache_path('pinchpoint'))"]
    there = subprocess.run(told, check=True, capture_output=True, text=True).stdout.strip()
    assert Path(there).is_relative_to(tmp_path_factory.getbasetemp())
    assert _folder() == Path(there) / "frontiers"
