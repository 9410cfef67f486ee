#!/usr/bin/env python3
"""Puts into README and method page what the code and the benchmark say, between markers.

    python docs/write_tables.py                       says what is out of date; exit code 1 if anything is
    python docs/write_tables.py --write               writes it
    python docs/write_tables.py --write --example     the worked example too, from the committed landmarks of its clip

The accuracy table of the README is taken from those of docs/rendered-sets.md and docs/verdicts.md.
``python docs/release_tables.py`` prints every table there is.
"""

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable
from dataclasses import MISSING, fields
from pathlib import Path

import click
from firing_table import table as firing_table

from formcheck.cli import cli
from formcheck.cli.group import SECTIONS
from formcheck.core.settings import Settings
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import list_general_cautions, load_references
from formcheck.pose.recording import load_recording
from formcheck.pose.tracking import TRACKER_VERSION
from formcheck.storage.recording_cache import cache_path

ROOT = Path(__file__).resolve().parent.parent
README, METHOD, ACCURACY = ROOT / "README.md", ROOT / "docs" / "method.md", ROOT / "docs" / "accuracy.md"
CHECKS, RENDERED = ROOT / "docs" / "checks.md", ROOT / "docs" / "rendered-sets.md"
COMMANDS, VERDICTS = ROOT / "docs" / "commands.md", ROOT / "docs" / "verdicts.md"
EXAMPLE = "formcheck review clips_demo/bent_over_side_torso_rises.mp4 --exercise bent-over-lateral-raise --no-save"
COLUMNS = 110
"""Width of the terminal the example is printed for."""
SHOWN_TO = "◆ To change"
"""The README shows the output up to this line: next cue and table."""
UNITS = {"deg": "°", "deg/s": "°/s", "s": "s", "ratio": "ratio", "none": "no unit"}


def block_of(text: str, name: str) -> str:
    """What stands between the markers of a block."""
    found = re.search(_pattern(name), text, flags=re.S)
    if found is None:
        raise SystemExit(f"There is no block {name!r}.")
    return found.group(2)


def with_block(text: str, name: str, content: str) -> str:
    """The text with another content between the markers of a block."""
    return re.sub(_pattern(name), lambda found: f"{found.group(1)}{content}\n{found.group(3)}", text, flags=re.S)


def _pattern(name: str) -> str:
    return rf"(<!-- {name} -->\n)(.*?)(<!-- {name} end -->)"


# ---------------------------------------------------------------- what goes in


def accuracy() -> str:
    """What the tables of rendered sets and verdicts say over all exercises, in a few lines."""
    reps, verdicts = RENDERED.read_text(encoding="utf-8"), VERDICTS.read_text(encoding="utf-8")
    tuned = _part_figures(block_of(reps, "sets"), block_of(verdicts, "grades"))
    kept_back = _part_figures(block_of(reps, "sets kept back"), block_of(verdicts, "grades kept back"))
    people = (ROOT / "docs" / "real-people.md").read_text(encoding="utf-8")
    (line,) = _find(r"^\| landmarks, together \| ([\d.]+) \|", people)
    names = (
        "rendered sets of all exercises, truth known (`sets.py`, `grades.py`)",
        "sets whose every rep is found, and rightly called whole or partial",
        "faults named that a coach would just name; larger ones",
        "faults praised",
        "clean sets with a false alarm, sure; probable",
        "points decided, camera as the exercise asks",
    )
    head = (names[0], f"{tuned[0]} sets it was fitted to", f"{kept_back[0]} kept back, opened once")
    silhouette = (
        "arm's line against the silhouette of one filmed woman (`real_people.py`)",
        f"{line}° median error",
        "",
    )
    rows = [head, ("---", "---", "---"), *zip(names[1:], tuned[1:], kept_back[1:], strict=True), silhouette]
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)


def _part_figures(reps: str, verdicts: str) -> tuple[str, ...]:
    """The column of one part of the rendered sets: how many there are, and what was found of them."""
    (all_sets,) = _find(r"^(\d+) sets$", verdicts)
    sets, right = _find(r"^all with both sides +(\d+) +(\d+) ", reps)
    coach, larger, praised = _find(r"^all +(\d+ of \d+) \(.*?\) +(\d+ of \d+) \(.*?\) +(\d+) ", verdicts)
    clean, sure, probable = _find(r"^clean sets +(\d+) +(\d+) +(\d+)$", verdicts)
    (undecided,) = _find(r"^all checks undecided, camera as the exercise asks +(\d+)%", verdicts)
    decided = f"{100 - int(undecided)} %"
    return all_sets, f"{right} of {sets}", f"{coach}; {larger}", praised, f"{sure}; {probable} of {clean}", decided


def _find(pattern: str, text: str) -> tuple[str, ...]:
    found = re.search(pattern, text, flags=re.M)
    if found is None:
        raise SystemExit(f"No line {pattern!r} in the printed tables.")
    return found.groups()


def example() -> str:
    """What the command line prints for a shipped clip: next cue and table."""
    with tempfile.TemporaryDirectory() as home:
        said = run_example(Path(home)).split(SHOWN_TO)[0].strip()
    return f"```sh\n{EXAMPLE}\n```\n\n```text\n{said}\n```"


def keep_landmarks(home: Path) -> None:
    """Put the committed landmarks of the shipped clips where a review looks for those of an earlier look.

    Another processor rounds otherwise in the pose model; so what the pages show does not depend on it.
    """
    for path in sorted((ROOT / "tools" / "benchmarks" / "recordings" / "shipped").glob("*.npz")):
        recording = load_recording(path)
        kept = cache_path(home / "recordings", recording.clip.sha256, recording.pose_model, TRACKER_VERSION)
        kept.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, kept)


def run_example(home: Path) -> str:
    """Run the worked example with a data folder of its own; its output without spaces at line ends."""
    keep_landmarks(home)
    command = [sys.executable, "-m", *EXAMPLE.split()]
    env = {**os.environ, "FORMCHECK_HOME": str(home), "COLUMNS": str(COLUMNS), "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, encoding="utf-8", check=False)
    if done.returncode != 0:
        raise SystemExit(done.stderr)
    return "\n".join(line.rstrip() for line in done.stdout.splitlines()).strip()


def measures() -> str:
    """Every number the analysis can give."""
    rows = ["| number | unit | what it is | in the code |", "| --- | --- | --- | --- |"]
    rows += [f"| {term.plain} | {UNITS[term.unit]} | {term.meaning} | `{term.name}` |" for term in MEASURES.values()]
    return "\n".join(rows)


def settings() -> str:
    """Every value the analysis may be told, with what stands beside it in the code."""
    source = (ROOT / "formcheck" / "core" / "settings.py").read_text(encoding="utf-8")
    rows = ["| setting | by default | what it is |", "| --- | --- | --- |"]
    for field in fields(Settings):
        told = re.search(rf'    {field.name}: .*?"""(.*?)"""', source, flags=re.S)
        assert told is not None
        assert field.default is not MISSING
        rows.append(f"| `{field.name}` | {field.default} | {' '.join(told.group(1).split())} |")
    return "\n".join(rows)


def citations() -> str:
    """Every citation, once."""
    rows = ["| key | how it is known | text |", "| --- | --- | --- |"]
    rows += [f"| `{one.key}` | {one.tag} | {one.text} |" for one in load_references().values()]
    return "\n".join(rows)


def care() -> str:
    """The cautions that hold for everyone and every exercise."""
    return "\n".join(textwrap.fill(f"- {text}", 120, subsequent_indent="  ") for text in list_general_cautions())


def checks() -> str:
    """From which value on each check names its fault."""
    return "\n".join(firing_table())


def commands() -> str:
    """The help of every command, by job as ``formcheck --help`` lists them."""
    parts = []
    for title, names in SECTIONS.items():
        parts.append(f"## {title}")
        for name in names:
            parts += _helps(cli.commands[name], f"formcheck {name}", "###")
    return "\n\n".join(parts)


def _helps(command: click.Command, call: str, heading: str) -> list[str]:
    """Heading and help of a command, and of those below it."""
    context = click.Context(command, info_name=call, terminal_width=COLUMNS, max_content_width=COLUMNS)
    text = "\n".join(line.rstrip() for line in command.get_help(context).splitlines())
    parts = [f"{heading} {call}\n\n```text\n{text}\n```"]
    if isinstance(command, click.Group):
        for name, below in command.commands.items():
            parts += _helps(below, f"{call} {name}", heading + "#")
    return parts


BLOCKS: tuple[tuple[Path, str, Callable[[], str]], ...] = (
    (README, "accuracy", accuracy),
    (README, "cautions", care),
    (METHOD, "measures", measures),
    (METHOD, "settings", settings),
    (METHOD, "references", citations),
    (CHECKS, "checks", checks),
    (COMMANDS, "commands", commands),
)
"""Page, block, what makes it; the worked example is apart, since it takes long."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help="write what is out of date")
    parser.add_argument("--example", action="store_true", help="the worked example of the README too")
    options = parser.parse_args()
    blocks = [*BLOCKS, (README, "example", example)] if options.example else list(BLOCKS)
    stale = 0
    for page, name, make in blocks:
        text = page.read_text(encoding="utf-8")
        content = make()
        if block_of(text, name).strip() == content:
            continue
        stale += 1
        if options.write:
            page.write_text(with_block(text, name, content), encoding="utf-8")
        print(f"{page.relative_to(ROOT)}: {name}: {'written' if options.write else 'out of date'}")
    return 0 if options.write or not stale else 1


if __name__ == "__main__":
    sys.exit(main())
