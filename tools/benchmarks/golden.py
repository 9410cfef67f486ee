"""Makes review documents from one commit and from another, and says whether they are the same to the bit.

    python tools/benchmarks/golden.py against REVISION [--only WORD ...] [--keep FOLDER]
    python tools/benchmarks/golden.py make OUT [--only WORD ...]

`make` writes, in this order:

- ``sets/<set>.json``: `formcheck.analyse` of every tuning set, as the exercise its truth names; beside it
  ``.exact.json``: the driver curve's checksum and every measure before it is rounded for the review's JSON
- ``clips/<clip>.json``, ``.html``, ``.txt``: what `formcheck review` writes and prints of every shipped clip
- ``demo/...``: what `formcheck demo`, history, compare and progress write and print, in an empty data folder

Only what users may call is used, and the checkout's own `packed_sets`, so that it works across a change of everything
inside. `against` makes both on this machine, whose last bits are its own, that of REVISION in a worktree of it in a
temporary folder, by the same interpreter, and lets ``git diff`` compare the folders; it ends with 1 if any differs.
Paths and the time of day that follows today's date, which differ from run to run, are replaced by names.
"""

import argparse
import hashlib
import json
import multiprocessing
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from formcheck import Analysis

HERE = Path(__file__).resolve()
SETS, CLIPS = "tools/benchmarks/recordings/sets/tuning", "clips_demo"
"""Where packed sets and shipped clips are, from the root of a checkout."""
TRUTH = ".truth.npz.xz"
CLIENT, EXERCISE = "Mira Invented", "lateral-raise"
"""The demo's client and what she trains."""
DEMO: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "demo/demo": (("demo",), ()),
    "demo/history": (("history", "--limit", "100"), ()),
    "demo/history-1": (("history", "1"), ("json",)),
    "demo/history-1-screen": (("history", "1"), ()),
    "demo/history-1-table": (("history", "1"), ("csv",)),
    "demo/history-15": (("history", "15"), ("json",)),
    "demo/client": (("client", "show", CLIENT), ()),
    "demo/compare-1": (("compare", "1"), ("json", "html")),
    "demo/compare-1-screen": (("compare", "1"), ()),
    "demo/compare-1-2": (("compare", "1", "2"), ("json", "html")),
    "demo/compare-1-2-screen": (("compare", "1", "2"), ()),
    "demo/compare-13-15": (("compare", "13", "15"), ("json", "html")),
    "demo/progress": (("progress", CLIENT, "--exercise", EXERCISE), ("json", "html")),
    "demo/progress-screen": (("progress", CLIENT, "--exercise", EXERCISE), ()),
}
"""Document → words of the command, and the kinds of files it is to write. A command that writes JSON prints nothing."""
OPTIONS = {"json": "--json", "html": "--report", "csv": "--csv"}


# ---------------------------------------------------------------- making


class MakingError(RuntimeError):
    """A document that could not be made; says which and why."""


def make(root: Path, out: Path, words: Collection[str] = ("",), say: Callable[[str], None] = print) -> int:
    """Write the documents of a checkout whose name holds one of the words; gives their number.

    Raises MakingError.
    """
    root, out = root.resolve(), out.resolve()
    if out.exists() and any(out.iterdir()):
        raise MakingError(f"{out} is not empty.")
    today = _today()
    out.mkdir(parents=True, exist_ok=True)
    made = 0
    for name in of_sets(root, out, words):
        say(name)
        made += 1
    with tempfile.TemporaryDirectory() as home:
        runs = Runs(root, out, Path(home), today)
        for clip in sorted((root / CLIPS).glob("*.mp4")):
            if wanted(name := f"clips/{clip.stem}", words):
                exercise = json.loads(clip.with_suffix(".truth.json").read_text(encoding="utf-8"))["exercise"]
                runs.run(name, ("review", str(clip), "--exercise", exercise), ("json", "html"))
                say(name)
                made += 1
    asked = [name for name in DEMO if wanted(name, words)]
    if asked:
        with tempfile.TemporaryDirectory() as home:
            runs = Runs(root, out, Path(home), today)
            for name in dict.fromkeys(("demo/demo", *asked)):  # without the demo the others have nothing to tell of
                runs.run(name, *DEMO[name])
                say(name)
                made += 1
    if _today() != today:
        raise MakingError("It became another day meanwhile; make them again.")
    if not made:
        raise MakingError("No document's name holds any of these words.")
    return made


def wanted(name: str, words: Collection[str]) -> bool:
    """Whether a document is asked for."""
    return any(word in name for word in words)


def of_sets(root: Path, out: Path, words: Collection[str]) -> Iterator[str]:
    """Write the review of every tuning set, two at a time; gives their names."""
    truths = sorted((root / SETS).glob(f"*{TRUTH}"))
    orders = [(root, truth, out) for truth in truths if wanted(_name_of(truth), words)]
    if orders:
        context = multiprocessing.get_context("spawn")
        with context.Pool(2) as pool:
            yield from pool.imap(_analyse, orders)


def _name_of(truth: Path) -> str:
    return f"sets/{truth.name.removesuffix(TRUTH)}"


def _analyse(order: tuple[Path, Path, Path]) -> str:
    root, truth, out = order
    name = _name_of(truth)
    sys.path[:0] = [str(root), str(root / "tools" / "benchmarks")]
    import formcheck

    if not Path(formcheck.__file__).resolve().is_relative_to(root):
        raise MakingError(f"formcheck was taken from {formcheck.__file__}, not from {root}.")
    import packed_sets

    target = out / f"{name}.json"
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        recording = packed_sets.unpack_recording(truth.with_name(truth.name.replace(".truth", "")))
        analysis = formcheck.analyse(recording, packed_sets.unpack_truth(truth).document["exercise"])
        formcheck.write_review(analysis.review, target)
        target.with_suffix(".exact.json").write_text(json.dumps(_exact(analysis), indent=1), encoding="utf-8")
    except Exception as error:  # which may be of a kind that cannot be sent to the process that asked
        raise MakingError(f"{name}: {type(error).__name__}: {error}") from None
    return name


def _exact(analysis: "Analysis") -> dict[str, Any]:
    """What the JSON of a review rounds, as hexadecimal floats; and the curve that makes the reps."""

    def exact(value: float | None) -> str | None:
        return None if value is None else float(value).hex()

    curve = np.ascontiguousarray(analysis.driver, dtype="<f8")
    measures = {
        f"{one.name} {one.side} {one.rep}": [exact(one.value), exact(one.margin)] for one in analysis.review.measures
    }
    return {"driver": hashlib.sha256(curve.tobytes()).hexdigest(), "measures": measures}


class Runs:
    """Runs commands of a checkout's formcheck in a data folder of their own."""

    def __init__(self, root: Path, out: Path, home: Path, today: date) -> None:
        self._out, self._home, self._today = out, home, today
        self._names = {str(out): "<out>", str(home.resolve()): "<home>", str(root): "<root>"}
        kept = {key: value for key, value in os.environ.items() if not key.startswith("FORMCHECK_")}
        self._environment = kept | {
            "FORMCHECK_HOME": str(home.resolve()),
            "PYTHONPATH": str(root),
            "COLUMNS": "400",  # so that no line is broken elsewhere where a day's name is shorter
            "NO_COLOR": "1",
            "TZ": "UTC",
        }
        self._start = [sys.executable, "-c", _START, str(root)]

    def run(self, name: str, words: tuple[str, ...], kinds: tuple[str, ...]) -> None:
        """Write what a command writes as ``<name>.<kind>`` and what it prints as ``<name>.txt``."""
        files = [self._out / f"{name}.{kind}" for kind in kinds]
        (self._out / name).parent.mkdir(parents=True, exist_ok=True)
        asked = [word for kind, file in zip(kinds, files, strict=True) for word in (OPTIONS[kind], str(file))]
        done = subprocess.run(
            [*self._start, *words, *asked], cwd=self._home, env=self._environment, capture_output=True, check=False
        )
        said = done.stderr.decode(errors="replace").strip()[-400:]
        if done.returncode not in (0, 1) or not all(file.exists() for file in files):
            raise MakingError(f"{name}: formcheck {' '.join(words)} ended with {done.returncode}: {said}")
        if done.returncode == 1 and not files:  # 1 is also said of a review that could judge nothing, but it is written
            raise MakingError(f"{name}: formcheck {' '.join(words)} failed: {said}")
        printed = f"{done.stdout.decode()}ended with {done.returncode}\n"
        for file, text in [(self._out / f"{name}.txt", printed)] + [(f, f.read_bytes().decode()) for f in files]:
            file.write_bytes(neutral(text, self._today, self._names).encode())


_START = """
import sys
root = sys.argv.pop(1)
import formcheck
if not formcheck.__file__.startswith(root): sys.exit(f"formcheck was taken from {formcheck.__file__}")
import runpy
runpy.run_module("formcheck", run_name="__main__", alter_sys=True)
"""
"""`python -m formcheck`, once it is sure whose."""


def neutral(text: str, today: date, names: Mapping[str, str]) -> str:
    """A text without what is another from run to run: paths → names, the time of day behind today's date → a word."""
    for path, name in names.items():
        text = text.replace(path, name)
    days = f"{today.isoformat()}|{today.day} {today:%b %Y}"
    return re.sub(rf"({days})(?:, |[ T])\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:\d\d)?", r"\1 <time>", text)


def _today() -> date:
    return datetime.now(UTC).date()


def report(before: Path, after: Path) -> int:
    """Print what differs; 1 if anything does, or if there was nothing to compare."""
    total = len([path for path in before.rglob("*") if path.is_file()])
    differs = subprocess.run(["git", "diff", "--no-index", before, after], check=False).returncode
    print(f"{total} files, {'some differ' if differs else 'all the same'}" if total else "Nothing to compare.")
    return int(bool(differs) or not total)


# ---------------------------------------------------------------- the command line


def against(revision: str, words: list[str], keep: Path | None) -> int:
    """Make the documents of a revision and of this checkout, and compare them."""
    root = root_of(HERE)
    with tempfile.TemporaryDirectory() as temporary:
        place = keep or Path(temporary)
        other = Path(temporary).resolve() / "checkout"
        made = subprocess.run(
            ["git", "-C", root, "worktree", "add", "--quiet", "--detach", other, revision],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        if made.returncode:
            raise MakingError(f"git cannot check out {revision!r}: {made.stderr.strip()}")
        try:
            for checkout, name in ((other, "before"), (root, "after")):
                print(f"making {name}")
                print(make(checkout, place / name, words, say=lambda _: None), "documents")
        finally:
            subprocess.run(["git", "-C", root, "worktree", "remove", "--force", other], check=True)
        return report(place / "before", place / "after")


def root_of(file: Path) -> Path:
    """The checkout a file lies in."""
    return next(folder for folder in file.parents if (folder / "pyproject.toml").is_file())


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    making = commands.add_parser("make", help="write the documents into an empty folder")
    making.add_argument("out", type=Path)
    both = commands.add_parser("against", help="make those of a revision and of this checkout, and compare")
    both.add_argument("revision")
    both.add_argument("--keep", type=Path, metavar="FOLDER", help="write both there instead of a temporary folder")
    for one in (making, both):
        one.add_argument("--only", nargs="+", default=[""], metavar="WORD", help="documents whose name holds one")
    options = parser.parse_args()
    try:
        if options.command == "against":
            return against(options.revision, options.only, options.keep)
        print(f"{make(root_of(HERE), options.out, options.only)} documents")
    except MakingError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
