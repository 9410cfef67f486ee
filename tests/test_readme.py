"""What the README tells people to type exists, and what can be run in a moment is run."""

import re
import shlex
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from formcheck.cli import cli
from formcheck.web import launcher

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BENCHMARKS = (ROOT / "docs" / "benchmarks.md").read_text(encoding="utf-8")
FIRST_SET = (ROOT / "docs" / "first-set.md").read_text(encoding="utf-8")
BY_NEED = ("first-set", "ten-clips", "client-weeks", "own-exercise", "own-limits", "python")
"""The pages under docs/ that tell people what to type, beside the README."""


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
for page in BY_NEED:
    COMMANDS += commands((ROOT / "docs" / f"{page}.md").read_text(encoding="utf-8"))
FORMCHECK = [command for command in COMMANDS if command.program == "formcheck"]
EXAMPLE = [command for command in FORMCHECK if any(word.startswith("clips_demo/") for word in command.words)]
REVIEWS = [command for command in FORMCHECK if command.words[1] == "review" and command not in EXAMPLE]
QUICK = [command for command in FORMCHECK if command.words[1] in {"exercises", "show"}]


def formcheck(*arguments: str) -> "subprocess.CompletedProcess[str]":
    """Run formcheck's command line."""
    command = [sys.executable, "-m", "formcheck", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_the_blocks_are_read() -> None:
    lines = [command.line for command in COMMANDS]
    assert lines[0] == "python3 start.py"
    assert "python3 start.py test" in lines
    assert len(FORMCHECK) >= 5
    assert len(QUICK) >= 2
    assert len(REVIEWS) >= 3


def test_only_programs_that_come_with_the_project() -> None:
    assert {command.program for command in COMMANDS} == {"python3", "uv", "formcheck"}


@pytest.mark.parametrize("command", QUICK, ids=lambda command: command.line)
def test_quick_commands_run(command: Command) -> None:
    done = formcheck(*command.words[1:])
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()


@pytest.mark.parametrize("command", FORMCHECK, ids=lambda command: command.line)
def test_every_option_is_in_the_help(command: Command) -> None:
    group = isinstance(cli.commands[command.words[1]], click.Group)
    done = CliRunner().invoke(cli, [*command.words[1 : 3 if group else 2], "--help"], prog_name="formcheck")
    assert done.exit_code == 0, done.stderr
    for option in (word for word in command.words if word.startswith("--")):
        assert re.search(re.escape(option) + r"\b", done.stdout), f"{option} is not an option of {command.words[1]}"


@pytest.mark.parametrize("command", REVIEWS, ids=lambda command: command.line)
def test_every_command_takes_its_arguments(command: Command, tmp_path: Path) -> None:
    """A clip that is not there is the only thing wrong with them: exit code 1, not 2."""
    missing = str(tmp_path / "no-such-clip.mp4")
    words = [missing if word == "my-set.mp4" else word for word in command.words[1:]]
    done = CliRunner().invoke(cli, words, prog_name="formcheck")
    assert done.exit_code == 1, done.stderr
    assert "no-such-clip.mp4" in " ".join(done.stderr.split()).replace(" ", "")
    assert "Traceback" not in done.stderr


def test_launcher_options_are_in_its_help() -> None:
    done = subprocess.run([sys.executable, "start.py", "--help"], cwd=ROOT, capture_output=True, text=True, check=True)
    for option in ("--no-browser", "--port"):
        assert option in FIRST_SET
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
    assert [command for command in FORMCHECK if command.words[1:] == ("serve",)]
    assert launcher.APP == ROOT / "app.py"
    assert launcher.APP.is_file()


PAGES = ["README.md", "DEVELOPERS.md", "CHANGELOG.md", *(f"docs/{path.name}" for path in (ROOT / "docs").glob("*.md"))]


@pytest.mark.parametrize("page", PAGES)
def test_every_link_leads_somewhere(page: str) -> None:
    wrong = [target for target in links(page) if not (ROOT / page).parent.joinpath(target).exists()]
    assert wrong == []


def test_links_are_found() -> None:
    assert {"LICENSE", "docs/method.md", "docs/accuracy.md", "docs/safety.md"} <= set(links("README.md"))
    assert sum(len(links(page)) for page in PAGES) > 30


def links(page: str) -> list[str]:
    """What a page of the project links to within the project."""
    text = re.sub(r"^```.*?^```", "", (ROOT / page).read_text(encoding="utf-8"), flags=re.M | re.S)
    return [target for target in re.findall(r"\]\(([^)#]+)", text) if "://" not in target]


def test_python_files_named_to_be_run_are_there() -> None:
    script = re.compile(r"\bpython3? ((?:docs|tools/benchmarks|tools/render|examples)/\w+\.py)")
    named = {(page, name) for page in PAGES for name in script.findall((ROOT / page).read_text(encoding="utf-8"))}
    assert len(named) > 30
    assert {(page, name) for page, name in named if not (ROOT / name).is_file()} == set()


def test_every_benchmark_is_told_of() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "tools/benchmarks/*.py", "tools/render/*.py"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    ).stdout.split()
    if not listed:
        pytest.skip("not a git checkout")
    run = [name for name in listed if '__name__ == "__main__"' in (ROOT / name).read_text(encoding="utf-8")]
    assert len(run) > 15
    assert [name for name in run if Path(name).name not in BENCHMARKS] == []


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


# ---------------------------------------------------------------- what is written in from elsewhere


def test_tables_are_those_of_the_code_and_the_benchmark() -> None:
    done = subprocess.run(
        [sys.executable, "docs/write_tables.py"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"python docs/write_tables.py --write puts this right:\n{done.stdout}{done.stderr}"


@pytest.mark.parametrize(("column", "blocks"), [(2, ("sets", "grades")), (3, ("sets kept back", "grades kept back"))])
def test_the_accuracy_table_says_what_the_printed_tables_say(column: int, blocks: tuple[str, str]) -> None:
    """Read without the script: every figure of the README's table stands in a line of the tables it is taken from."""
    pages = ((ROOT / "docs" / name).read_text(encoding="utf-8") for name in ("rendered-sets.md", "verdicts.md"))
    reps, verdicts = (
        page.split(f"<!-- {block} -->")[1].split(f"<!-- {block} end -->")[0]
        for page, block in zip(pages, blocks, strict=True)
    )
    shown = README.split("<!-- accuracy -->")[1].split("<!-- accuracy end -->")[0].strip().splitlines()
    assert len(shown) <= 8
    total, _, right, faults, praised, alarms, decided, _ = (row.split("|")[column].strip() for row in shown)
    assert re.search(rf"^{total.split()[0]} sets$", verdicts, flags=re.M)
    right, of = right.split(" of ")
    assert re.search(rf"^all with both sides +{of} +{right} ", reps, flags=re.M)
    coach, larger = faults.split("; ")
    assert re.search(rf"^all +{coach} .*{larger} .* {praised} +\d+$", verdicts, flags=re.M)
    sure, probable, clean = re.fullmatch(r"(\d+); (\d+) of (\d+)", alarms).groups()  # type: ignore[union-attr]
    assert re.search(rf"^clean sets +{clean} +{sure} +{probable}$", verdicts, flags=re.M)
    undecided = 100 - int(decided.removesuffix(" %"))
    assert re.search(rf"camera as the exercise asks +{undecided}% ", verdicts, flags=re.M)


def test_a_stale_table_is_noticed_and_put_right(tmp_path: Path) -> None:
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        import write_tables
    finally:
        sys.path.pop(0)
    text = "before\n<!-- one -->\nold\n<!-- one end -->\nafter\n"
    assert write_tables.block_of(text, "one") == "old\n"
    new = write_tables.with_block(text, "one", r"new \1 line")
    assert new == "before\n<!-- one -->\nnew \\1 line\n<!-- one end -->\nafter\n"
    with pytest.raises(SystemExit, match="no block 'two'"):
        write_tables.block_of(text, "two")


# What a reader who lifts but never measured finds explained where it is first used.
@pytest.mark.parametrize(
    ("term", "plain"),
    [
        ("range of motion", "how far each joint moves"),
        ("95 % interval", "95 of 100"),
        ("landmark", "points on the body"),
    ],
)
def test_terms_have_their_plain_words_beside_them(term: str, plain: str) -> None:
    text = " ".join((README + FIRST_SET).split())
    first = text.index(term)
    assert plain in text[max(0, first - 200) : first + 300]


def test_pictures_are_there_small_and_described() -> None:
    """`python docs/screenshots.py` takes them; all together they stay below a megabyte."""
    from PIL import Image

    shown = re.findall(r"!\[([^\]]+)\]\((docs/pictures/[\w-]+\.webp)\)", README)
    folder = ROOT / "docs" / "pictures"
    files = sorted(path.relative_to(ROOT).as_posix() for path in folder.iterdir() if path.name != "shown.json")
    assert sorted(path for _, path in shown) == files
    assert len(files) >= 2
    assert sum((ROOT / path).stat().st_size for path in files) < 1_000_000
    for words, path in shown:
        assert len(words.split()) >= 5, "a picture is described for those who do not see it"
        with Image.open(ROOT / path) as picture:
            assert picture.format == "WEBP"
            assert picture.width >= (640 if getattr(picture, "n_frames", 1) > 1 else 1000)
    script = (ROOT / "docs" / "screenshots.py").read_text(encoding="utf-8")
    for path in files:
        assert f'"{Path(path).stem}"' in script
