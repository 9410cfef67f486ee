"""Every reader of foreign bytes against changed inputs, for a stated time; prints what was tried and found.

Usage: ``python tools/benchmarks/fuzz.py [--minutes 10] [--seed 1] [--only clip] [--keep FOLDER]``. What a reader
refuses with a sentence is right; any other error, a crash or an endless silence is a find, and its input is kept. Clips
are read in a child process bounded as in a review. What was found stands as a test in ``tests/safety/test_found.py``.
"""

import argparse
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from formcheck.batch.listing import read_requests
from formcheck.batch.requests import ClipRequest
from formcheck.coaching.plan import parse_plan
from formcheck.core.errors import FormcheckError
from formcheck.core.model import Settings
from formcheck.exercises.registry import load_exercise_file
from formcheck.formats import decode, encode
from formcheck.formats.stored_json import decode_edits, decode_limits, encode_edits
from formcheck.pose.recording import load_recording
from formcheck.reps.edits import Edits, leave_out
from formcheck.sandbox.worker import set_limits
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import estimate_view
from formcheck.storage.curve_cache import read_curves, write_curves
from formcheck.video.reader import ClipReader
from hostile_films import ROOT, plain

AT_ONCE = 25
MEMORY, SECONDS = 3 * 1024**3, 120
NUMBERS = (b"\0", b"\xff", b"\x7f", b"\x80", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\0\0\0\0", b"NaN", b"1e999",
           b"-1", b'"', b"\\", b"{", b"[", b"\n", b"/", b"@", b"\xe2\x80\xae", b"99999999999999999999")  # fmt: skip
KEY = "0" * 64
Reader = Callable[[Path], object]


@dataclass(frozen=True, slots=True)
class Target:
    """A reader and the sound inputs whose changes it is given."""

    name: str
    read: Reader
    seeds: Sequence[bytes]
    ending: str


def read_clip(path: Path) -> None:
    """All pictures of a clip."""
    with ClipReader(path) as reader:
        before = -1.0
        for t, _ in reader:
            if not t > before:
                raise AssertionError("times do not increase")
            before = t


def read_review(path: Path) -> None:
    """A review; what is accepted must be writable again to the same."""
    review = decode(path.read_bytes())
    if decode(encode(review)) != review:
        raise AssertionError("not the same when written and read again")


def read_plan(path: Path) -> None:
    """A plan; its own notation must mean the same."""
    plan = parse_plan(path.read_bytes().decode("utf-8", "surrogateescape"))
    if parse_plan(str(plan)) != plan:
        raise AssertionError("its own notation means another plan")


def read_list(path: Path) -> None:
    """A batch's list."""
    read_requests(path, ClipRequest(""))


def read_kept(path: Path) -> None:
    """Kept curves: whatever the file holds, they are read or made anew."""
    read_curves(path, KEY)


def kept(recording: bytes) -> bytes:
    """A file of curves."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "input.npz"
        path.write_bytes(recording)
        film = load_recording(path)
        write_curves(compute_signals(film, estimate_view(film, "auto"), Settings()), path, KEY)
        return path.read_bytes()


def as_text(read: Callable[[str], object]) -> Reader:
    """A reader of text as a reader of files."""
    return lambda path: read(path.read_bytes().decode("utf-8", "replace"))


def targets() -> list[Target]:
    """Every reader, with seeds."""
    clips = [plain(f"clip.{ending}", True)[:400_000] for ending in ("mp4", "mkv", "ts", "avi")]
    texts = [path.read_bytes() for path in sorted((ROOT / "formcheck" / "exercises").glob("*.toml"))]
    own_name = re.compile(rb'(?m)^id = ".*"')
    exercises = [own_name.sub(b'id = "input"', text, count=1) for text in texts if b"[driver]" in text]
    films = sorted(p for p in (ROOT / "tools" / "benchmarks" / "recordings").rglob("*.npz") if ".truth" not in p.name)
    recordings = [film.read_bytes() for film in films[:3]]
    edits = [encode_edits(leave_out(Edits("squat"), 0.0, 1.0)).encode(), encode_edits(Edits()).encode()]
    lists = [b"clip,client,exercise,load,target reps,view,session,set\na.mp4,Ada,squat,20 kg,12,side,2026-03-01,1\n",
             b'clip;load;client\r\n"a;b.mp4";"7,5";"O""Hara"\r\nhttps://clips.example/c.mp4;;\r\n']  # fmt: skip
    plans = [
        b"11/9/7 @ 6/7/8 kg tempo 2-1-2-0",
        b"4x9 @ 8 kg, tempo 20X1, range 85\xc2\xb0",
        b"6-9/5 @ 17.5/20 kg",
    ]
    limits = [b'{"depth":{"limit":85.0,"tolerance":2.0,"cue":"Deeper."}}']
    return [
        Target("review", read_review, [(ROOT / "tests/data/review_v1.json").read_bytes()], ".json"),
        Target("exercise", load_exercise_file, exercises, ".toml"),
        Target("plan", read_plan, plans, ".txt"),
        Target("limits", as_text(decode_limits), limits, ".json"),
        Target("edits", as_text(decode_edits), edits, ".json"),
        Target("batch list", read_list, lists, ".csv"),
        Target("recording", load_recording, recordings, ".npz"),
        Target("kept curves", read_kept, [kept(data) for data in recordings], ".curves"),
        Target("clip", read_clip, clips, ".mp4"),
    ]


def changed(seed: bytes, others: Sequence[bytes], chance: random.Random) -> bytes:
    """A seed with some of it turned, cut, doubled, moved or taken from another."""
    data = bytearray(seed)
    for _ in range(chance.choice((1, 1, 2, 4, 16))):
        if not data:
            break
        # half of all changes fall into the first kilobyte, where headers are
        reach = len(data) if chance.random() < 0.5 else min(len(data), 1024)
        at = chance.randrange(reach)
        length = chance.choice((1, 2, 4, 8, 64))
        match chance.randrange(7):
            case 0:
                data[at] ^= 1 << chance.randrange(8)
            case 1:
                data[at : at + length] = chance.randbytes(length)
            case 2:
                del data[at : at + length]
            case 3:
                data[at:at] = data[at : at + length] * chance.choice((1, 2, 50))
            case 4:
                data[at : at + chance.choice((0, 1, 4))] = chance.choice(NUMBERS)
            case 5:
                other = chance.choice(others)
                start = chance.randrange(len(other))
                data[at : at + length] = other[start : start + length]
            case _:
                if chance.random() < 0.1:
                    del data[at:]
    return bytes(data)


def tried(target: Target, data: bytes, folder: Path) -> str:
    """What went wrong, or nothing; in this process."""
    path = folder / f"input{target.ending}"
    path.write_bytes(data)
    try:
        target.read(path)
    except FormcheckError as error:
        sentence = str(error)
        return "" if sentence.isprintable() and len(sentence) < 2000 else f"not one line: {sentence[:200]!r}"
    except MemoryError:
        return "" if target.name == "clip" else "memory"  # a review's child says so in a sentence
    except Exception as error:
        return "" if getattr(error, "errno", None) == 12 else f"{type(error).__name__}: {error}"[:300]
    return ""


def batch(target: Target, seed: int, folder: Path) -> list[tuple[bytes, str]]:
    """Some inputs in a child process; those that went wrong and how."""
    chance = random.Random(seed)
    inputs = [changed(chance.choice(target.seeds), target.seeds, chance) for _ in range(AT_ONCE)]
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        set_limits(MEMORY, SECONDS)
        nowhere = os.open(os.devnull, os.O_RDWR)
        os.dup2(nowhere, 2)
        for number, data in enumerate(inputs):
            wrong = tried(target, data, folder)
            os.write(writing, f"{number} {' '.join(wrong.split())}\n".encode("utf-8", "replace"))
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8", errors="replace") as pipe:
        lines = [line.rstrip("\n").partition(" ") for line in pipe]
    _, status = os.waitpid(child, 0)
    found = [(inputs[int(number)], wrong) for number, _, wrong in lines if wrong]
    if os.WIFSIGNALED(status):
        found.append((inputs[len(lines)], f"ended by {signal.Signals(os.WTERMSIG(status)).name}"))
    return found


def main() -> int:
    """Try for the time given; the exit code says whether something was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--keep", type=Path, default=None, metavar="FOLDER", help="where finds are kept")
    options = parser.parse_args()
    chosen = [target for target in targets() if options.only in target.name]
    finds = 0
    for target in chosen:
        until = time.monotonic() + 60 * options.minutes / len(chosen)
        count, seen = 0, set[str]()
        with tempfile.TemporaryDirectory() as folder:
            while time.monotonic() < until:
                for data, wrong in batch(target, options.seed * 1_000_003 + count, Path(folder)):
                    kind = wrong[:60]
                    if kind not in seen:
                        seen.add(kind)
                        print(f"  {target.name}: {wrong}", flush=True)
                        if options.keep is not None:
                            options.keep.mkdir(parents=True, exist_ok=True)
                            (options.keep / f"{target.name}-{len(seen)}{target.ending}").write_bytes(data)
                count += AT_ONCE
        finds += len(seen)
        print(
            f"{target.name:10} {count:7} inputs in {60 * options.minutes / len(chosen):4.0f} s, {len(seen)} finds",
            flush=True,
        )
    return 1 if finds else 0


if __name__ == "__main__":
    sys.exit(main())
