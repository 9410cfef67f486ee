"""The page started for others, and its password, from the command line."""

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from formcheck.cli import cli, door
from formcheck.store.password import FILE, kept_password

PASSWORD = "lantern/over/harbour"
Run = Callable[..., Result]


def set_password(given: str = PASSWORD, again: str = PASSWORD) -> Result:
    return CliRunner().invoke(cli, ["password"], input=f"{given}\n{again}\n", prog_name="formcheck")


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that would have been run."""
    commands: list[list[str]] = []

    def noted(command: list[str], **_more: Any) -> "subprocess.CompletedProcess[str]":
        commands.append(command)
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(door.subprocess, "run", noted)
    return commands


def test_password_is_kept_as_a_hash_and_never_shown(formcheck_home: Path) -> None:
    done = set_password()
    assert done.exit_code == 0
    assert PASSWORD not in done.output
    assert PASSWORD not in (formcheck_home / FILE).read_text()
    kept = kept_password(formcheck_home)
    assert kept is not None
    assert kept.matches(PASSWORD)


def test_a_short_password_is_refused(formcheck_home: Path) -> None:
    done = set_password("short", "short")
    assert done.exit_code == 2
    assert "A password has 10 to 200 characters." in done.stderr
    assert not (formcheck_home / FILE).exists()


def test_password_off(run: Run, formcheck_home: Path) -> None:
    assert run("password", "--off").stdout == "There was no password.\n"
    set_password()
    assert run("password", "--off").stdout == "The password is forgotten.\n"
    assert not (formcheck_home / FILE).exists()


@pytest.mark.parametrize("words", [("--address", "0.0.0.0"), ("--name", "gym.example"), ("--address", "::")])
def test_others_are_refused_without_a_password(run: Run, started: list[list[str]], words: tuple[str, ...]) -> None:
    done = run("serve", *words)
    assert done.exit_code == 2
    assert done.stderr.strip().endswith("needs a password: set one first with: formcheck password.")
    assert not started


def test_behind_a_proxy(run: Run, started: list[list[str]]) -> None:
    set_password()
    assert run("serve", "--name", "gym.example").exit_code == 0
    (command,) = started
    assert "--server.address=127.0.0.1" in command
    names = [word.partition("=")[2] for word in command if word.startswith("--server.allowedHosts")]
    assert names == ["127.0.0.1", "localhost", "gym.example"]


def test_this_machine_alone_needs_no_password(run: Run, started: list[list[str]]) -> None:
    assert run("serve").exit_code == 0
    assert "--server.address=127.0.0.1" in started[0]
