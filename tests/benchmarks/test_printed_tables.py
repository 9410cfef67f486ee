"""The tables of README and docs against the commands that print them; what no test prints anew carries its commit."""

import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from tests.test_examples import assert_alike

ROOT = Path(__file__).resolve().parent.parent.parent
PAGES = sorted([ROOT / "README.md", *(ROOT / "docs").glob("*.md")])


@pytest.fixture(scope="module")
def release() -> Iterator[ModuleType]:
    """docs/release_tables.py."""
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        import release_tables

        yield release_tables
    finally:
        sys.path.remove(str(ROOT / "docs"))


def commands() -> set[str]:
    """Every benchmark whose output stands on a page in a block of its own."""
    found = set()
    for page in PAGES:
        blocks = re.findall(r"```sh\n((?:(?!```).)*)\n```\n\n```text\n", page.read_text(encoding="utf-8"), flags=re.S)
        found |= {block for block in blocks if "tools/benchmarks/" in block}
    return found


def test_every_printed_block_has_its_place_in_the_list(release: ModuleType) -> None:
    told = {table.command for table in release.TABLES}
    assert len(commands()) >= 6
    assert commands() - told == set()
    listed = release.listed()
    for table in release.TABLES:
        assert table.command in listed
        assert table.tested is None or (ROOT / table.tested).is_file()


def test_every_table_without_a_test_carries_the_commit_that_printed_it(release: ModuleType) -> None:
    known = subprocess.run(["git", "rev-parse", "--is-shallow-repository"], cwd=ROOT, capture_output=True, text=True,
                           check=False)  # fmt: skip
    for table in release.TABLES:
        if table.tested:
            continue
        text = release.on_the_page(table) if table.shown else table.page.read_text(encoding="utf-8")
        stamps = re.findall(r"Printed by commit\s+`([0-9a-f]{7,40})`", text)
        assert stamps, table.name
        if known.stdout.strip() == "false":
            for commit in stamps:
                asked = ["git", "cat-file", "-e", f"{commit}^{{commit}}"]
                assert subprocess.run(asked, cwd=ROOT, capture_output=True, check=False).returncode == 0, commit


ROWS = ("8 reps", "growing from rep 4–8", "range lower by 4°")
"""Of the breakdown table, which takes minutes: a row of each of its parts."""


def test_rows_of_the_breakdown_table_are_what_its_command_prints(release: ModuleType) -> None:
    """All 2000 simulated sets of these rows, from the same numbers as the whole table."""
    (table,) = [one for one in release.TABLES if one.name == "breakdown"]
    assert table.part == Path(__file__).relative_to(ROOT).as_posix()
    some = replace(table, command=" ".join((table.command, *(f"--only '{row}'" for row in ROWS))))
    printed = [line for line in release.printed_now(some).splitlines() if line]
    assert [row for row in ROWS if not any(line.startswith(f"{row}  ") for line in printed)] == []
    shown = [line for line in release.on_the_page(table).splitlines() if line[:40] in {one[:40] for one in printed}]
    assert len(shown) == len(printed) == len(ROWS) + 4  # with the first line and three heads
    assert_alike("\n".join(shown), "\n".join(printed), "python docs/release_tables.py --write --only breakdown")
