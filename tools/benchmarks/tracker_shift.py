"""What another tracker, or another version of the pose library, changes in the reviews of the shipped clips.

    python tools/benchmarks/tracker_shift.py --track FOLDER     tracks the clips; once with each version installed
    python tools/benchmarks/tracker_shift.py BEFORE AFTER       the two folders; prints the table

Of every clip: reps, median and largest difference of the values by what they measure, phases, and each check whose
verdict is another one. Values that only one of the two gives are counted apart.
"""

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from formcheck.analysis import analyse
from formcheck.core.model import LandmarkRecording, Review
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import get_exercise
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.recording import load_recording
from formcheck.storage.recording_cache import cached_recording
from record import list_clips, load_landmarks, read_exercise


def main() -> int:
    """Track, or print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--track", type=Path)
    parser.add_argument("folders", nargs="*", type=Path, metavar="FOLDER")
    options = parser.parse_args()
    if options.track:
        for clip in list_clips():
            cached_recording(clip, MediaPipeEstimator, options.track)
        return 0
    if len(options.folders) != 2:
        parser.error("two folders of recordings")
    before, after = ({r.clip.sha256: r for r in recordings(folder)} for folder in options.folders)
    differences: dict[str, list[float]] = defaultdict(list)
    only_one = total = 0
    for clip in list_clips():
        sha, exercise = load_landmarks(clip).clip.sha256, get_exercise(read_exercise(clip))
        old, new = (analyse(found[sha], exercise).review for found in (before, after))
        print(f"\n{clip.stem}")
        print(f"  reps {reps_of(old)} -> {reps_of(new)}")
        for name in ("start_s", "top_s", "end_s"):
            if len(old.reps) == len(new.reps):
                apart = [abs(getattr(a, name) - getattr(b, name)) for a, b in zip(old.reps, new.reps, strict=True)]
                differences[f"rep, {name.removesuffix('_s')} (s)"] += apart
        values = [{(m.name, m.side, m.rep): m for m in found.measures} for found in (old, new)]
        for key in values[0].keys() & values[1].keys():
            one, other = values[0][key].value, values[1][key].value
            total += one is not None or other is not None
            only_one += (one is None) != (other is None)
            if one is not None and other is not None:
                differences[f"{key[0]} ({MEASURES[key[0]].unit})"].append(abs(one - other))
        for check, reps, was, now in other_verdicts(old, new):
            print(f"  {check}, reps {', '.join(map(str, reps))}: {was} -> {now}")
    print(f"\n{'value':46}{'n':>5}{'median':>9}{'95 %':>9}{'largest':>9}")
    for name, found in sorted(differences.items()):
        median, high, most = np.percentile(found, (50, 95, 100))
        print(f"{name:46}{len(found):5}{median:9.3f}{high:9.3f}{most:9.3f}")
    print(f"\nvalues given by only one of the two: {only_one} of {total}")
    return 0


def recordings(folder: Path) -> Iterator[LandmarkRecording]:
    """The recordings of a folder."""
    return (load_recording(path) for path in sorted(folder.glob("*.npz")))


def reps_of(found: Review) -> str:
    """Complete and partial repetitions."""
    complete = sum(rep.complete for rep in found.reps)
    return f"{complete} + {len(found.reps) - complete} partial"


def other_verdicts(old: Review, new: Review) -> Iterator[tuple[str, tuple[int, ...], str, str]]:
    """Check, reps, and the verdict on them before and after, where it is another one."""
    verdicts = [
        {(finding.check, rep): finding.verdict for finding in found.findings for rep in finding.reps or (0,)}
        for found in (old, new)
    ]
    changed: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for check, rep in sorted(verdicts[0].keys() | verdicts[1].keys()):
        was, now = (found.get((check, rep), "not told") for found in verdicts)
        if was != now:
            changed[check, str(was), str(now)].append(rep)
    for (check, was, now), reps in changed.items():
        yield check, tuple(reps), was, now


if __name__ == "__main__":
    sys.exit(main())
