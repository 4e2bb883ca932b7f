"""The campaigns of clients and kills in small; their full size is run by hand: ``python tests/campaign_kills.py``."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parents[2]


def run(script: str, *words: str) -> str:
    done = subprocess.run(
        [sys.executable, str(TESTS / script), *words], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_clients_at_one_database_lose_nothing(url: str) -> None:
    said = run("campaign_clients.py", "--clients", "3", "--transactions", "15", "--url", url)
    assert "0 failed" in said
    assert "BROKEN" not in said


def test_killed_work_is_there_whole_or_not_at_all() -> None:
    assert hasattr(os, "fork")
    said = run("campaign_kills.py", "--kills", "8", "--only", "load", "pull", "migrate")
    assert said.splitlines()[-3:] == ["0 corrupted", "0 half-", "0 lost"]
