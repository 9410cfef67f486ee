"""What the README tells people to type exists, and what can be run in a moment is run."""

import re
import shlex
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@dataclass(frozen=True)
class Command:
    """One command of a code block: its variables, program and arguments."""

    line: str
    words: tuple[str, ...]

    @property
    def program(self) -> str:
        """The program's name, past variables and the environment's folder."""
        return self.words[0]


def commands(text: str) -> list[Command]:
    """Every command in the shell blocks of a page, split where ``&&`` joins two."""
    found = []
    for block in re.findall(r"^```sh\n(.*?)^```", text, flags=re.M | re.S):
        for line in block.splitlines():
            for part in line.split("&&"):
                words = [word for word in shlex.split(part) if not re.fullmatch(r"[A-Z_]+=\S+", word)]
                words[0] = words[0].removeprefix(".venv/bin/")
                found.append(Command(part.strip(), tuple(words)))
    return found


COMMANDS = commands(README)
FORMCHECK = [command for command in COMMANDS if command.program == "formcheck"]
REVIEWS = [command for command in FORMCHECK if command.words[1] == "review"]
QUICK = [command for command in FORMCHECK if command.words[1] in {"exercises", "show"}]


def formcheck(*arguments: str) -> "subprocess.CompletedProcess[str]":
    """Run formcheck's command line."""
    command = [sys.executable, "-m", "formcheck", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_the_blocks_are_read() -> None:
    lines = [command.line for command in COMMANDS]
    assert lines[:2] == ["python3 start.py", "python3 start.py test"]
    assert len(FORMCHECK) >= 5
    assert len(QUICK) >= 2
    assert len(REVIEWS) >= 3


def test_only_programs_that_come_with_the_project() -> None:
    assert {command.program for command in COMMANDS} == {"python3", "uv", "formcheck", "streamlit"}


@pytest.mark.parametrize("command", QUICK, ids=lambda command: command.line)
def test_quick_commands_run(command: Command) -> None:
    done = formcheck(*command.words[1:])
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()


@pytest.mark.parametrize("command", FORMCHECK, ids=lambda command: command.line)
def test_every_option_is_in_the_help(command: Command) -> None:
    done = formcheck(command.words[1], "--help")
    assert done.returncode == 0, done.stderr
    for option in (word for word in command.words if word.startswith("--")):
        assert re.search(re.escape(option) + r"\b", done.stdout), f"{option} is not an option of {command.words[1]}"


@pytest.mark.parametrize("command", REVIEWS, ids=lambda command: command.line)
def test_every_command_takes_its_arguments(command: Command, tmp_path: Path) -> None:
    """A clip that is not there is the only thing wrong with them: exit code 1, not 2."""
    missing = str(tmp_path / "no-such-clip.mp4")
    done = formcheck(*(missing if word == "my-set.mp4" else word for word in command.words[1:]))
    assert done.returncode == 1, done.stderr
    assert "no-such-clip.mp4" in " ".join(done.stderr.split()).replace(" ", "")
    assert "Traceback" not in done.stderr


def test_launcher_options_are_in_its_help() -> None:
    done = subprocess.run([sys.executable, "start.py", "--help"], cwd=ROOT, capture_output=True, text=True, check=True)
    for option in ("--no-browser", "--port"):
        assert option in README
        assert option in done.stdout
    tasks = {
        command.words[2] for command in COMMANDS if command.words[:2] == ("python3", "start.py") and command.words[2:]
    }
    tasks |= set(re.findall(r"python3 start\.py ([a-z]+)", GUIDE))
    assert {"test", "setup"} <= tasks
    for task in tasks:
        assert re.search(rf"\b{task}\b", done.stdout)


def test_what_the_uv_form_installs_is_there() -> None:
    (install,) = [command for command in COMMANDS if command.words[:3] == ("uv", "pip", "install")]
    assert "constraints.txt" in install.words
    extra = re.search(r"\.\[(\w+)\]", install.line)
    assert extra is not None
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert extra.group(1) in declared["optional-dependencies"]
    assert declared["scripts"]["formcheck"] == "formcheck.cli:main"


def test_start_ups_agree_on_the_page() -> None:
    (page,) = [command for command in COMMANDS if command.program == "streamlit"]
    assert page.words == ("streamlit", "run", "app.py")
    assert (ROOT / "app.py").is_file()


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_every_link_leads_somewhere(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)", text):
        if "://" not in target:
            assert (ROOT / target).exists(), target


def test_every_file_and_folder_of_the_map_exists() -> None:
    rows = re.findall(r"^\| (`.*?) \|", GUIDE, flags=re.M)
    assert len(rows) >= 10
    for row in rows:
        for name in re.findall(r"`([^`]+)`", row):
            candidates = [ROOT / name, ROOT / "formcheck" / name, ROOT / "formcheck" / f"{name}.py"]
            assert any(path.exists() for path in candidates), name


def test_views_named_are_those_the_command_takes() -> None:
    done = formcheck("review", "--help")
    told = " ".join(done.stdout.split())
    for view in ("auto", "front", "back", "side", "left", "right", "oblique"):
        assert view in told
