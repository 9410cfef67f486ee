"""The page started from the command line, and what became of its password."""

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from formcheck.cli import serve

Run = Callable[..., Result]
Started = list[tuple[list[str], dict[str, str]]]


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> Started:
    """The commands that would have been run, with their surroundings."""
    commands: Started = []

    def noted(command: list[str], *, env: dict[str, str], **_more: Any) -> "subprocess.CompletedProcess[str]":
        commands.append((command, env))
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(serve.subprocess, "run", noted)
    return commands


@pytest.mark.parametrize("words", [(), ("--off",), ("--off", "now"), ("secret",)])
def test_a_password_is_answered_with_what_to_do_instead(run: Run, formcheck_home: Path, words: tuple[str, ...]) -> None:
    done = run("password", *words)
    assert done.exit_code != 0
    assert len(done.stderr.strip().splitlines()) == 1
    assert "proxy" in done.stderr
    assert "docs/safety.md" in done.stderr
    assert not list(formcheck_home.glob("*password*"))


def test_a_stored_password_is_told(run: Run, started: Started, formcheck_home: Path) -> None:
    file = formcheck_home / "page-password"
    file.write_text("scrypt 16 8 1 00 00\n")
    assert str(file) in run("password").stderr
    assert str(file) in run("serve").stderr
    assert file.exists()


def test_behind_a_proxy(run: Run, started: Started) -> None:
    done = run("serve", "--name", "gym.example", "--behind-proxy")
    assert done.exit_code == 0
    assert not done.stderr
    ((command, surroundings),) = started
    assert "--server.address=127.0.0.1" in command
    names = [word.partition("=")[2] for word in command if word.startswith("--server.allowedHosts")]
    assert names == ["127.0.0.1", "localhost", "gym.example"]
    assert surroundings["FORMCHECK_BEHIND_PROXY"] == "1"


@pytest.mark.parametrize("words", [("--address", "0.0.0.0"), ("--name", "gym.example"), ("--address", "::")])
def test_open_to_others_without_a_proxy_is_told(run: Run, started: Started, words: tuple[str, ...]) -> None:
    assert "docs/safety.md" in run("serve", *words).stderr
    ((_, surroundings),) = started
    assert "FORMCHECK_BEHIND_PROXY" not in surroundings


def test_this_machine_alone_needs_nothing(run: Run, started: Started) -> None:
    done = run("serve")
    assert done.exit_code == 0
    assert not done.stderr
    assert "--server.address=127.0.0.1" in started[0][0]
