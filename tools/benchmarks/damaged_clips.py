"""Damaged and changing clips through the review, whole films of awkward kinds beside them; prints two tables.

Usage: ``python tools/benchmarks/damaged_clips.py [--only WORD]``. A damaged clip must be refused or told; a whole one
must be neither. The whole films are decoded without the pose model, which has no say in what is damaged.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

import formcheck

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "clips_demo" / "lateral_raise_front_range_lost.mp4"
EXERCISE = "lateral-raise"


@dataclass(frozen=True, slots=True)
class Hurt:
    """A damaged clip: how its bytes come from the whole ones."""

    name: str
    change: Callable[[bytearray], bytes]


def index_first(folder: Path) -> bytes:
    """The shipped clip, its index before its pictures."""
    import av

    path = folder / "whole.mp4"
    with av.open(str(SOURCE)) as reading, av.open(str(path), "w", options={"movflags": "+faststart"}) as writing:
        track: Any = writing.add_stream_from_template(reading.streams.video[0])
        for packet in reading.demux(video=0):
            if packet.dts is not None:
                packet.stream = track
                writing.mux(packet)
    return path.read_bytes()


def first_part(share: float) -> Callable[[bytearray], bytes]:
    """Only the first bytes."""
    return lambda data: bytes(data[: round(share * len(data))])


def zeros(start: float, end: float) -> Callable[[bytearray], bytes]:
    """A stretch of zeros."""

    def change(data: bytearray) -> bytes:
        a, b = round(start * len(data)), round(end * len(data))
        data[a:b] = bytes(b - a)
        return bytes(data)

    return change


def flips(count: int, seed: int, box: bytes) -> Callable[[bytearray], bytes]:
    """Bits turned over in a box of the file (ISO/IEC 14496-12): its index or its pictures."""

    def change(data: bytearray) -> bytes:
        at = data.index(box) - 4
        size = int.from_bytes(data[at : at + 4], "big")
        for bit in np.random.default_rng(seed).integers(8 * (at + 8), 8 * (at + size), count):
            data[bit // 8] ^= 1 << (bit % 8)
        return bytes(data)

    return change


HURT = [
    Hurt("whole", bytes),
    Hurt("cut to 60 % of its bytes, index first", first_part(0.6)),
    Hurt("cut to 30 %", first_part(0.3)),
    Hurt("cut to 8 %", first_part(0.08)),
    Hurt("the last 40 % zeros", zeros(0.6, 1.0)),
    Hurt("a fifth of the middle zeros", zeros(0.4, 0.6)),
    Hurt("5,000 bits of the pictures turned", flips(5000, 1, b"mdat")),
    Hurt("1 bit of the pictures turned", flips(1, 2, b"mdat")),
    *(Hurt(f"20 bits of the index turned, #{seed}", flips(20, seed, b"moov")) for seed in (1, 7, 9, 21)),
]


# ---------------------------------------------------------------- asking one formcheck


def review_of(clip: Path, kept: Path, on_progress: Callable[[float, float | None], None] | None = None) -> str:
    """How a review of a clip ends, in one line."""
    try:
        review = formcheck.review_clip(clip, EXERCISE, keep_in=kept, on_progress=on_progress).review
    except formcheck.FormcheckError as error:
        return f"refused: {str(error).partition(chr(34) + ' ')[2] or error}"
    reps = review.complete_reps
    to_change = sum(finding.verdict == "not_met" for finding in review.findings)
    said = [f"{problem.code} {list(problem.parameters.values())}" for problem in review.quality.problems]
    return f"{', '.join([*said, ''])}{reps} + {len(review.reps) - reps} reps, {to_change} to change"


def replaced_while_tracked(folder: Path, whole: bytes) -> str:
    """A clip that another one replaces while it is looked at, and the same clip reviewed again afterwards."""
    clip, kept = folder / "clip.mp4", folder / "kept-replaced"
    clip.write_bytes(whole)
    other = folder / "other.mp4"
    other.write_bytes((ROOT / "clips_demo" / "lateral_raise_front_clean.mp4").read_bytes())

    def replace_once(done: float, total: float | None) -> None:
        if other.exists():
            other.replace(clip)

    first = review_of(clip, kept, replace_once)
    clip.write_bytes(whole)
    return f"{first}; afterwards the intact clip: {review_of(clip, kept)}"


def folder_being_copied(folder: Path, whole: bytes) -> str:
    """A batch over a folder one of whose two clips is still being written, a tenth every half second."""
    source, home = folder / "arriving", folder / "home"
    source.mkdir()
    (source / "done.mp4").write_bytes((ROOT / "clips_demo" / "lateral_raise_front_clean.mp4").read_bytes())

    def write() -> None:
        with (source / "arriving.mp4").open("wb") as file:
            for tenth in range(10):
                file.write(whole[tenth * len(whole) // 10 : (tenth + 1) * len(whole) // 10])
                file.flush()
                time.sleep(1.0)

    writer = threading.Thread(target=write)
    writer.start()
    time.sleep(3.5)
    environment = {**os.environ, "FORMCHECK_HOME": str(home)}
    command = [sys.executable, "-m", "formcheck", "batch", str(source), "--exercise", EXERCISE, "--processes", "1"]
    first = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    writer.join()
    again = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    listed = subprocess.run(
        [sys.executable, "-m", "formcheck", "history"], capture_output=True, text=True, env=environment, check=False
    )
    kept = sum("arriving" in line for line in listed.stdout.splitlines())
    ends = [line.strip() for line in first.stdout.splitlines() if "arriving" in line]
    return f"{ends[0] if ends else first.stderr[-200:]} | run again {again.returncode}; sets kept of it: {kept}"


def answers(only: str) -> Iterator[tuple[str, str]]:
    """Every damaged row's answer, as it comes."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        whole = index_first(folder)
        for number, hurt in enumerate(hurt for hurt in HURT if only in hurt.name):
            clip = folder / f"{number}.mp4"
            clip.write_bytes(hurt.change(bytearray(whole)))
            yield hurt.name, review_of(clip, folder / f"kept-{number}")
        for name, ask in (
            ("replaced while it is tracked", replaced_while_tracked),
            ("a batch over a folder being copied into", folder_being_copied),
        ):
            if only in name:
                yield name, ask(folder, whole)


def whole_films(only: str) -> tuple[int, list[str]]:
    """How many whole films were made, and those that are called damaged or are refused."""
    from awkward_films import awkward
    from formcheck.core.errors import FormcheckError
    from formcheck.sandbox.sandboxed_tracking import track_clip
    from quick_model import Nobody

    called, count = [], 0
    for film in awkward():
        if only not in film.name:
            continue
        with tempfile.TemporaryDirectory() as folder:
            clip = film.make(Path(folder))
            count += 1
            try:
                damage = track_clip(clip, Nobody).damage
                said = "whole" if damage is None else f"DAMAGED: {damage.read_s} of {damage.length_s} s"
            except FormcheckError as error:
                said = f"REFUSED: {error}"
        print(f"{film.name:44} {said}", flush=True)
        if said != "whole":
            called.append(film.name)
    return count, called


def main() -> int:
    """Print the tables; the exit code says whether every damaged clip was told and no whole one was."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", metavar="WORD", help="only the cases whose name holds it")
    options = parser.parse_args()
    untold = []
    for name, answer in answers(options.only):
        print(f"{name}\n    {answer}", flush=True)
        waited = "7 complete reps" in answer and answer.endswith("sets kept of it: 1")  # as of the whole clip
        if not (
            name == "whole" or "refused" in answer or "clip-damaged" in answer or "still being" in answer or waited
        ):
            untold.append(name)
    print()
    count, called = whole_films(options.only)
    print(f"\n{count - len(called)} of {count} whole films are called whole; damaged and not told: {untold or 'none'}")
    return 1 if untold or called else 0


if __name__ == "__main__":
    sys.exit(main())
