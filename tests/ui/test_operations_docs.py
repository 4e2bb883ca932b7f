"""What the operating documents tell people to type exists, and the files for machines are sound."""

from __future__ import annotations

import configparser
import json
import re
import shlex
import tomllib
from pathlib import Path

import pytest

from graph.actor import Role
from graph.errors import UsageError
from graph.store.schema import versions
from ui.cli import main
from ui.sign_in import NEEDED, read_sign_in

DOCS = Path(__file__).resolve().parents[2] / "ui" / "docs"


def assert_known(words: list[str]) -> None:
    """The command and every option of a line of words exist."""
    assert words[0].endswith("pinchpoint")
    given = iter(words[1:])
    name = next(word for word in given if not word.startswith(("-", "sqlite:", "postgresql:")))
    command = main.commands[name]
    known = {option for holder in (main, command) for p in holder.params for option in p.opts}
    unknown = {word for word in words[1:] if word.startswith("--")} - known
    assert not unknown, f"{name}: {unknown}"


@pytest.mark.parametrize("document", ["operations.md", "upgrade.md"])
def test_every_command_in_the_text_exists(document: str) -> None:
    text = (DOCS / document).read_text("utf-8").replace("\n", " ")
    commands = re.findall(r"`(pinchpoint [^`]+)`", text)
    assert len(commands) > 3
    for command in commands:
        if command != "pinchpoint --version":
            assert_known(shlex.split(command))


def test_every_role_and_every_schema_is_described() -> None:
    assert set(re.findall(r"^\| ([a-z ]+) \| (?!may)", (DOCS / "operations.md").read_text("utf-8"), re.MULTILINE)) == {
        role.value for role in Role
    }
    assert re.findall(r"^\| (\d{4}) \|", (DOCS / "upgrade.md").read_text("utf-8"), re.MULTILINE) == versions()


def test_the_container_starts_a_command_that_exists_and_not_as_root() -> None:
    lines = (DOCS / "Containerfile").read_text("utf-8").splitlines()
    started = next(line.removeprefix("CMD ") for line in lines if line.startswith("CMD "))
    assert_known(json.loads(started))
    users = [line.split()[1] for line in lines if line.startswith("USER ")]
    assert users
    assert not users[-1].startswith(("0", "root"))


def test_the_service_starts_a_command_that_exists_and_stays_on_this_machine() -> None:
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment, method-assign]
    unit.read(DOCS / "pinchpoint.service")
    words = shlex.split(unit["Service"]["ExecStart"])
    assert_known(words)
    assert "--host" not in words
    assert "--sign-in" in words
    assert unit["Service"]["User"] != "root"


def test_the_example_of_the_sign_in_names_what_is_needed_and_opens_nothing(tmp_path: Path) -> None:
    example = (DOCS / "sign-in.example.toml").read_text("utf-8")
    assert set(tomllib.loads(example)["auth"]) == set(NEEDED)
    copy = tmp_path / "sign-in.toml"
    copy.write_text(example)
    copy.chmod(0o600)
    with pytest.raises(UsageError, match="lacks cookie_secret, client_id, client_secret"):
        read_sign_in(copy)
