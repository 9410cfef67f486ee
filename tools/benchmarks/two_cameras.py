"""How exactly two clips of one set are laid over one another, and whether clips of other sets are told apart.

    python tools/benchmarks/two_cameras.py FOLDER       rendered clips with their truth files

Prints every pair's error beside its stated margin, then how many combinations of clips of different sets of the same
exercise were taken for one.
"""

import argparse
import json
import sys
from itertools import combinations
from pathlib import Path
from typing import Any

from cases import recording_of
from formcheck.core.errors import PairingError
from formcheck.core.model import Review
from formcheck.exercises.registry import get_exercise
from formcheck.pairing.alignment import compute_loudness_rise
from formcheck.pairing.pair_review import review_pair
from formcheck.video.sound import RATE_HZ, read_sound


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    clips = [
        (path, json.loads(_truth(path).read_text())) for path in sorted(folder.glob("*.mp4")) if _truth(path).exists()
    ]
    sets: dict[str, list[tuple[Path, dict[str, Any]]]] = {}
    for path, truth in clips:
        sets.setdefault(path.stem.rpartition("_")[0], []).append((path, truth))
    wrong = 0
    for name, ((first, one), (second, two)) in sets.items():
        try:
            found = _review(first, second, one["exercise"]).second
        except PairingError as error:
            wrong += 1
            print(f"{name:46} refused: {error}")
            continue
        assert found is not None
        off = found.offset_s - (two["begins"] - one["begins"])
        frame = 1 / max(one["fps"], two["fps"])
        wrong += abs(off) > frame
        print(
            f"{name:46}{one['fps']:4.0f} and {two['fps']:2.0f} a second, off by {1000 * off:+6.1f} ms "
            f"(margin {1000 * found.offset_margin_s:.0f}, a frame {1000 * frame:.0f}), by {found.found_by}, "
            f"{found.confidence:.1%}"
        )
    tried = taken = 0
    for (first, one), (second, two) in combinations(clips, 2):
        if one["exercise"] != two["exercise"] or first.stem.rpartition("_")[0] == second.stem.rpartition("_")[0]:
            continue
        tried += 1
        try:
            _review(first, second, one["exercise"])
        except PairingError:
            continue
        taken += 1
        print(f"taken for one set: {first.name}, {second.name}")
    print(f"\n{len(sets) - wrong} of {len(sets)} pairs within a frame")
    print(f"{taken} of {tried} combinations of different sets taken for one")
    return 1 if wrong else 0


def _truth(clip: Path) -> Path:
    return clip.with_name(f"{clip.stem}.truth.json")


def _review(first: Path, second: Path, exercise: str) -> Review:
    heard = [read_sound(clip) for clip in (first, second)]
    courses = [compute_loudness_rise(one.start_s, one.samples, RATE_HZ) for one in heard if one is not None]
    sounds = (courses[0], courses[1]) if len(courses) == 2 else None
    return review_pair(recording_of(first), recording_of(second), get_exercise(exercise), sounds=sounds).review


if __name__ == "__main__":
    sys.exit(main())
