"""What 10,000 and 1,000,000 clips a day take, and what a clip costs, from figures measured here.

``python tools/benchmarks/scale.py [--repeats N] [--seconds S]`` has a batch review a clip as a telephone films it by
one process, keeps its review many times over in an empty store, and works out the rest. Processor time and sizes are
measured; what is assumed of a day stands in the table. On a busy machine processor time comes out too high.
"""

import argparse
import os
import statistics
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from batch_cost import free_share, make_batch
from formcheck.batch.local import ProcessRunner
from formcheck.formats import decode
from formcheck.storage import Store
from phone_clip import phone_clip

CACHE = Path(__file__).resolve().parent / ".cache"
A_DAY = (10_000, 1_000_000)
EVENING_SHARE, EVENING_HOURS = 0.5, 4.0
"""Half of a day's clips come in within so many hours and are to be done within them."""
GB_A_CORE = 1.0
"""A plan: one process with the pose model takes about a quarter of it."""
KEPT = 300
AT = datetime(2026, 3, 1, tzinfo=UTC)


def kept_a_second(document: str) -> float:
    """Reviews that one process keeps in a SQLite file, each on disk before the next."""
    review = decode(document)
    with tempfile.TemporaryDirectory() as name, Store.open(Path(name) / "reviews.sqlite") as store:
        begun = time.perf_counter()
        for _ in range(KEPT):
            store.save_review(review, created_at=AT)
        return KEPT / (time.perf_counter() - begun)


def row(what: str, *figures: str) -> None:
    """One row of the table."""
    print(f"{what:<62}" + "".join(f"{figure:>16}" for figure in figures), flush=True)


def size(megabytes: float) -> str:
    """Bytes in the unit that is read best."""
    for unit in ("MB", "GB", "TB"):
        if megabytes < 1000 or unit == "TB":
            break
        megabytes /= 1000
    return f"{megabytes:.3g} {unit}"


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=3, metavar="N")
    parser.add_argument("--seconds", type=float, default=60.0, metavar="S", help="length of the clip")
    given = parser.parse_args()
    clip = phone_clip(CACHE / f"phone-{given.seconds:g}.mp4", given.seconds)
    made = [make_batch([clip], ProcessRunner(1)) for _ in range(given.repeats)]
    core_s = statistics.median(one.processor_s for one in made)
    clip_mb, landmarks_mb = clip.stat().st_size / 1e6, made[0].landmark_bytes / 1e6
    document_mb, kept = len(made[0].documents[0].encode()) / 1e6, kept_a_second(made[0].documents[0])
    row(f"measured on {given.seconds:g} s of 1080p30; {os.cpu_count()} cores, {free_share():.0%} of one free")
    row("  processor seconds of a review, start of the pose model included", f"{core_s:.1f}")
    row("  the clip, landmarks, review document", size(clip_mb), size(landmarks_mb), size(document_mb))
    row("  reviews kept a second by one process, SQLite, each on disk", f"{kept:.0f}")
    print()
    row("a day", *(f"{clips:,} clips" for clips in A_DAY))
    hours = [clips * core_s / 3600 for clips in A_DAY]
    row("  core hours", *(f"{value:,.0f}" for value in hours))
    row("  cores, work spread over the day", *(f"{value / 24:,.0f}" for value in hours))
    evening = [value * EVENING_SHARE / EVENING_HOURS for value in hours]
    row(f"  cores, {EVENING_SHARE:.0%} of it within {EVENING_HOURS:g} hours", *(f"{value:,.0f}" for value in evening))
    row(
        f"  memory for these, {GB_A_CORE:g} GB a core (assumed)", *(size(value * 1000 * GB_A_CORE) for value in evening)
    )
    for what, each in (("clips, while they are kept", clip_mb), ("landmarks", landmarks_mb), ("store", document_mb)):
        row(f"  {what}", *(size(clips * each) for clips in A_DAY))
    rates = [(clips / 86400, clips * EVENING_SHARE / EVENING_HOURS / 3600) for clips in A_DAY]
    row("  reviews kept a second, on average / in the evening", *(f"{a:.2g} / {b:.2g}" for a, b in rates))
    print()
    row("a clip, with a price P of a core hour and Q of a gigabyte and month")
    row("  looking at it", f"{core_s / 3600:.3f} P")
    row("  keeping the clip, a month", f"{clip_mb / 1000:.2f} Q")
    row("  keeping landmarks and review, a month", f"{(landmarks_mb + document_mb) / 1000:.4f} Q")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
