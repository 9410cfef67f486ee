#!/usr/bin/env python3
"""Prints every table of README and docs by its own command, and writes those that are out of date.

    python docs/release_tables.py --list                says which command prints which table, and what keeps it true
    python docs/release_tables.py                       prints all tables it can, and says which are out of date
    python docs/release_tables.py --write               writes these
    python docs/release_tables.py --only problems       one table; may be given again

A table is either printed anew by a test, or carries the commit that printed it, since it takes long (then a test may
print some of its rows), rests on a clock, or on another version of a library. Give it a quiet machine and half an hour,
and a clean checkout, so that the commit says which code printed what.
"""

import argparse
import re
import shlex
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import write_tables
from write_tables import ACCURACY, README, RENDERED, ROOT, VERDICTS, block_of, with_block

SAFETY, SCALE = ROOT / "docs" / "safety.md", ROOT / "docs" / "scale.md"
STAMP = re.compile(r"^Printed by commit `([0-9a-f]{7,40})`.*\.$", re.M)
"""The sentence below a table that no test prints anew."""


def whole(printed: str) -> str:
    """All of what a command prints."""
    return printed.strip()


def by_build_kept_out(printed: str) -> str:
    """The last lines: how margins fitted to the other builds hold."""
    return printed[printed.index("truths inside margins fitted") :].strip()


@dataclass(frozen=True)
class Table:
    """One table, or a group of figures, and what prints it."""

    name: str
    """Of its block on the page, between ``<!-- name -->`` and ``<!-- name end -->``; else what it is called here."""
    page: Path
    command: str
    tested: str | None = None
    """The test that prints it anew; without one it carries its commit."""
    part: str | None = None
    """The test that prints some of its rows anew, where all of them take minutes."""
    shown: Callable[[str], str] | None = whole
    """What of the command's output stands on the page; None where it is put in by hand or by the command itself."""


PRINTED = "tests/benchmarks/test_printed_tables.py"
TABLES = (
    Table("sets", RENDERED, "python tools/benchmarks/sets.py"),
    Table("grades", VERDICTS, "python tools/benchmarks/grades.py"),
    Table("sets kept back", RENDERED, "python tools/benchmarks/sets.py --part reporting-2", shown=None),
    Table("grades kept back", VERDICTS, "python tools/benchmarks/grades.py --part reporting-2 --open", shown=None),
    Table("changes", VERDICTS, "python tools/benchmarks/changes.py"),
    Table("sources", ACCURACY, "python tools/benchmarks/sources.py"),
    Table("corrections", ACCURACY, "python tools/benchmarks/fit_correction.py"),
    Table("margins", ACCURACY, "python tools/benchmarks/fit_pooled_margins.py", shown=by_build_kept_out),
    Table("suggestions", ACCURACY, "python tools/benchmarks/suggestions.py"),
    Table("wrong exercise", ACCURACY, "python tools/benchmarks/wrong_exercise.py"),
    Table("breakdown", ACCURACY, "python tools/benchmarks/fatigue.py --no-rendered", part=PRINTED),
    Table("rendered breakdown", ACCURACY, "python tools/benchmarks/fatigue.py --sets 0"),
    Table("reference rep", ACCURACY, "python tools/benchmarks/reference_rep.py"),
    Table("one voice", ACCURACY, "python tools/benchmarks/one_voice.py"),
    Table("problems", ACCURACY, "python tools/benchmarks/problems.py"),
    Table(
        "another version of the pose library",
        ACCURACY,
        "python tools/benchmarks/tracker_shift.py BEFORE AFTER",
        shown=None,
    ),
    *(
        Table(name, page, "python docs/write_tables.py --write", "tests/test_readme.py", shown=None)
        for page, name, _ in write_tables.BLOCKS
    ),
    Table("example", README, "python docs/write_tables.py --write --example", "tests/test_examples.py", shown=None),
    Table("plans", SCALE, "python tools/benchmarks/scale.py"),
    Table("speed", SCALE, "python tools/benchmarks/speed.py --repeats 5 --rows 1080p30"),
    Table(
        "speed of the rest",
        SCALE,
        "python tools/benchmarks/speed.py --repeats 3 --rows 1080p60 4k30 page agreement memory",
    ),
    Table("page speed", SCALE, "python tools/benchmarks/page_speed.py"),
    Table("commands' speed", SCALE, "python tools/benchmarks/command_speed.py"),
    Table("set-up", SCALE, "python tools/benchmarks/set_up.py --of 4e7154d7 HEAD"),
    Table("hostile clips", SAFETY, "python tools/benchmarks/hostile.py", shown=None),
    Table("killed processes", SAFETY, "python tools/benchmarks/kills.py", shown=None),
    Table("hours of use", SAFETY, "python tools/benchmarks/soak.py --minutes 120", shown=None),
)


def fenced(command: str, printed: str) -> str:
    """Command and output as they stand on a page."""
    return f"```sh\n{command}\n```\n\n```text\n{printed}\n```"


def on_the_page(table: Table) -> str:
    """The block as it stands now."""
    text = table.page.read_text(encoding="utf-8")
    return block_of(text, table.name).strip()


def put(table: Table, content: str) -> None:
    """Write the block."""
    text = table.page.read_text(encoding="utf-8")
    table.page.write_text(with_block(text, table.name, content), encoding="utf-8")


def printed_now(table: Table) -> str:
    """What the table's command prints now, as far as it is shown; raises SystemExit with what it said when it fails."""
    assert table.shown is not None
    words = shlex.split(table.command)[1:]
    done = subprocess.run(
        [sys.executable, *words], cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False
    )
    if done.returncode != 0:
        raise SystemExit(f"{table.command}\n{done.stderr}")
    return table.shown("\n".join(row.rstrip() for row in done.stdout.splitlines()))


def printed_by() -> str:
    """Which commit prints a table now, as a sentence to stand below it; raises SystemExit outside a git checkout."""
    asked = (
        ("rev-parse", "--short=9", "HEAD"),
        ("status", "--porcelain", "--untracked-files=no", "--", ":/*.py", ":/*.toml"),
    )
    answers = []
    for words in asked:
        done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit("A table carries the commit that printed it, and this is no git checkout.")
        answers.append(done.stdout.strip())
    commit, changed = answers
    return f"Printed by commit `{commit}`{' with changes of its own' if changed else ''}."


def content_of(table: Table, printed: str) -> str:
    """The block with this output, and the commit where no test prints it anew."""
    text = fenced(table.command, printed)
    return text if table.tested else f"{text}\n\n{printed_by()}"


def listed() -> str:
    """Every table with its page, its command, and what keeps it true."""
    rows = []
    for table in TABLES:
        kept = table.tested or ("carries its commit" if table.shown else "told with its date and machine, by hand")
        kept += f", some rows in {table.part}" if table.part else ""
        rows.append(f"{table.page.relative_to(ROOT)}: {table.name}\n    {table.command}\n    {kept}")
    return "\n".join(rows)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--list", action="store_true", help="say what prints which table, and print none")
    parser.add_argument("--write", action="store_true", help="write what is out of date")
    parser.add_argument("--only", action="append", metavar="NAME", choices=[table.name for table in TABLES])
    options = parser.parse_args()
    if options.list:
        print(listed())
        return 0
    stale = []
    for table in TABLES:
        if table.shown is None or (options.only and table.name not in options.only):
            continue
        print(f"\n$ {table.command}", flush=True)
        printed = printed_now(table)
        print(printed, flush=True)
        if fenced(table.command, printed) not in on_the_page(table):
            stale.append(table.name)
            if options.write:
                put(table, content_of(table, printed))
    command = [sys.executable, "docs/write_tables.py", *(["--write"] if options.write else [])]
    if not options.only:
        print("\n$ " + " ".join(["python", *command[1:]]), flush=True)
        if subprocess.run(command, cwd=ROOT, check=False).returncode != 0:
            stale.append("write_tables.py")
    print(f"\n{'Written' if options.write else 'Out of date'}: {', '.join(stale) or 'nothing'}.")
    return 1 if stale and not options.write else 0


if __name__ == "__main__":
    sys.exit(main())
