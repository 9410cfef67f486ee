"""Makes review documents from one commit and compares them with those of another, to the bit.

    python tools/benchmarks/golden.py make OUT [--only WORD ...]
    python tools/benchmarks/golden.py compare BEFORE AFTER [--new-keys FILE_OR_LIST]
    python tools/benchmarks/golden.py against REVISION [--only WORD ...] [--new-keys FILE_OR_LIST] [--keep FOLDER]

`make` writes, in this order:

- ``sets/<set>.json``: `formcheck.analyse` of every tuning set, as the exercise its truth names; beside it
  ``.exact.json``: the driver curve's checksum and every measure before it is rounded for the review's JSON
- ``clips/<clip>.json``, ``.html``, ``.txt``: what `formcheck review` writes and prints of every shipped clip
- ``demo/...``: what `formcheck demo`, history, compare and progress write and print, in an empty data folder

Only what users may call is used, and the checkout's own `packed_sets`, so that it works across a change of everything
inside. Folders are compared on the
same machine only: another processor's last bits are its own. `against` makes both, that of REVISION in a worktree of
it in a temporary folder, by the same interpreter.

`compare` ends with 1 if anything differs. JSON is compared key by key, numbers as they are written and keys in their
order; line breaks and indents are not compared. ``--new-keys`` names keys that may be in AFTER alone: a file with one
a line, or a list with commas, each as printed with ``[]`` for any number, as in ``reps[].name``.

Three things are not the same from run to run; `neutral` puts a name in the place of each, and of nothing else:

- the checkout's, the output's and the data folder's path
- days from `MOST_DAYS` before the making up to it, since the demo ends the day before: 2026-11-24, 24 Nov 2026 and, as
  a mark on an axis, 24 Nov; each becomes its distance to the day of the making
- the time of day that follows the day of the making itself: when a review was stored
"""

import argparse
import difflib
import hashlib
import itertools
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
MOST_DAYS = 60
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAY = re.compile(
    r"\b(?P<y>\d{4})-(?P<m>\d\d)-(?P<d>\d\d)\b(?P<at>[ T]\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:\d\d)?)?"
    rf"|\b(?P<day>\d\d?) (?P<month>{'|'.join(_MONTHS)})\b(?: (?P<year>\d{{4}})\b)?(?P<time>, \d\d:\d\d\b)?"
)


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
        for file, text in [(self._out / f"{name}.txt", printed)] + [(f, _read(f)) for f in files]:
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
    """A text without what is another from run to run: paths → names, late days → their distance from today."""
    for path, name in names.items():
        text = text.replace(path, name)

    def instead(found: re.Match[str]) -> str:
        day = _day_of(found, today)
        if day is None or not 0 <= (before := (today - day).days) <= MOST_DAYS:
            return found[0]
        at = found["at"] or found["time"] or ""
        return f"<day {-before}>" + (" <time>" if at and not before else at)

    return _DAY.sub(instead, text)


def _day_of(found: re.Match[str], today: date) -> date | None:
    """The day a match names; without a year, the last such day up to today."""
    month = found["m"] or 1 + _MONTHS.index(found["month"])
    year = found["y"] or found["year"]
    for tried in [year] if year else [today.year, today.year - 1]:
        try:
            day = date(int(tried), int(month), int(found["d"] or found["day"]))
        except ValueError:
            continue
        if year or day <= today:
            return day
    return None


def _today() -> date:
    return datetime.now(UTC).date()


def _read(file: Path) -> str:
    return file.read_bytes().decode()


# ---------------------------------------------------------------- comparing


class Number(str):
    """A number of a document as it is written there."""

    __slots__ = ()


def compare(before: Path, after: Path, new_keys: Collection[str] = ()) -> dict[str, list[str]]:
    """Name of each document that differs → lines that say where."""
    found = {}
    names = [
        {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
        for folder in (before, after)
    ]
    for name in sorted(names[0] | names[1]):
        if name not in names[1]:
            lines = ["only in BEFORE"]
        elif name not in names[0]:
            lines = ["only in AFTER"]
        elif name.endswith(".json"):
            lines = list(_unlike("", _parsed(before / name), _parsed(after / name), new_keys))
        else:
            lines = _diff_head(_read(before / name), _read(after / name))
        if lines:
            found[name] = lines
    return found


def _parsed(file: Path) -> Any:
    return json.loads(file.read_bytes(), parse_float=Number, parse_int=Number, parse_constant=Number)


def _unlike(path: str, before: Any, after: Any, new_keys: Collection[str]) -> Iterator[str]:
    if isinstance(before, dict) and isinstance(after, dict):
        for key in before:
            inside = f"{path}.{key}".lstrip(".")
            if key in after:
                yield from _unlike(inside, before[key], after[key], new_keys)
            else:
                yield f"{inside}: {_short(before[key])} → no such key"
        for key in after:
            inside = f"{path}.{key}".lstrip(".")
            if key not in before and re.sub(r"\[\d+\]", "[]", inside) not in new_keys:
                yield f"{inside}: no such key → {_short(after[key])}"
        order = [[key for key in one if key in other] for one, other in ((before, after), (after, before))]
        if order[0] != order[1]:
            yield f"{path or 'the whole'}: order of keys {', '.join(order[0])} → {', '.join(order[1])}"
    elif isinstance(before, list) and isinstance(after, list):
        for number, (one, other) in enumerate(zip(before, after, strict=False)):
            yield from _unlike(f"{path}[{number}]", one, other, new_keys)
        if len(before) != len(after):
            yield f"{path}: {len(before)} items → {len(after)}"
    elif type(before) is not type(after) or before != after:
        same = 0
        if isinstance(before, str) and isinstance(after, str):
            same = sum(1 for _ in itertools.takewhile(lambda two: two[0] == two[1], zip(before, after, strict=False)))
        yield f"{path}: {_short(before, same)} → {_short(after, same)}"


def _short(value: Any, same: int = 0) -> str:
    """A value in at most some 100 characters, from a little before where texts begin to differ."""
    text = value if isinstance(value, Number) else json.dumps(value, ensure_ascii=False)
    begin = same - 30 if same > 60 else 0
    text = f"...{text[begin:]}" if begin else text
    return text if len(text) <= 100 else f"{text[:97]}..."


def _diff_head(before: str, after: str, most: int = 24) -> list[str]:
    """The first lines of a unified diff; HTML is broken between tags, and long lines anywhere."""
    if before == after:
        return []
    lines = list(difflib.unified_diff(_lines(before), _lines(after), "BEFORE", "AFTER", n=1, lineterm=""))
    lines = lines or ["they differ in line breaks alone"]
    return lines[:most] + ([f"... {len(lines) - most} lines more"] if len(lines) > most else [])


def _lines(text: str, width: int = 160) -> list[str]:
    whole = re.sub(r">(?=<)", ">\n", text).split("\n")
    return [line[at : at + width] for line in whole for at in range(0, len(line) or 1, width)]


def keys_from(given: str) -> frozenset[str]:
    """Keys from a file, one a line, ``#`` before a remark; or from a list with commas."""
    text = Path(given).read_text(encoding="utf-8") if Path(given).is_file() else given.replace(",", "\n")
    return frozenset(key for line in text.splitlines() if (key := line.partition("#")[0].strip()))


def report(before: Path, after: Path, new_keys: Collection[str]) -> int:
    """Print what differs; 1 if anything does, or if there was nothing to compare."""
    total = len([path for path in before.rglob("*") if path.is_file()])
    found = compare(before, after, new_keys)
    for name, lines in found.items():
        print(name)
        for line in lines:
            print(f"    {line}")
    print(f"{total} files, {len(found)} differ" if total or found else "Nothing to compare.")
    return int(bool(found) or not total)


# ---------------------------------------------------------------- the command line


def against(revision: str, words: list[str], new_keys: Collection[str], keep: Path | None) -> int:
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
        return report(place / "before", place / "after", new_keys)


def root_of(file: Path) -> Path:
    """The checkout a file lies in."""
    return next(folder for folder in file.parents if (folder / "pyproject.toml").is_file())


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    making = commands.add_parser("make", help="write the documents into an empty folder")
    making.add_argument("out", type=Path)
    comparing = commands.add_parser("compare", help="say which documents of two folders differ")
    comparing.add_argument("before", type=Path)
    comparing.add_argument("after", type=Path)
    both = commands.add_parser("against", help="make those of a revision and of this checkout, and compare")
    both.add_argument("revision")
    both.add_argument("--keep", type=Path, metavar="FOLDER", help="write both there instead of a temporary folder")
    for one in (making, both):
        one.add_argument("--only", nargs="+", default=[""], metavar="WORD", help="documents whose name holds one")
    for one in (comparing, both):
        one.add_argument("--new-keys", type=keys_from, default=frozenset(), metavar="FILE_OR_LIST")
    options = parser.parse_args()
    try:
        if options.command == "make":
            print(f"{make(root_of(HERE), options.out, options.only)} documents")
            return 0
        if options.command == "against":
            return against(options.revision, options.only, options.new_keys, options.keep)
    except MakingError as error:
        print(error, file=sys.stderr)
        return 1
    for folder in (options.before, options.after):
        if not folder.is_dir():
            parser.error(f"{folder} is no folder")
    return report(options.before, options.after, options.new_keys)


if __name__ == "__main__":
    sys.exit(main())
