"""How exactly two recordings of one set are laid over one another, and whether recordings of other sets are told apart.

    python tools/benchmarks/two_cameras.py [--fit]

Over the part `pairs`: every pair's offset beside its truth and its stated margin, from the movement alone; the same
with sound, where the pair is said to have it; how many recordings of different sets of one exercise were taken for one;
both once more with a fifth to nearly half of the second clip cut away at its beginning or end. Each film is analysed
once.

The sound is made here: weights set down at the ends of the reps and elsewhere, music, and noise of each microphone's
own, with the way of the sound to each camera and a sound track that runs up to 0.03 s off its pictures.
"""

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from typing import Any

import numpy as np

from formcheck.analysis import analyse_camera
from formcheck.core.errors import PairingError, UnclearPairError
from formcheck.core.model import Array, Rep
from formcheck.pairing.alignment import Alignment, align
from formcheck.pairing.decision import ACCEPTED, compute_confidence, list_evidence
from formcheck.pairing.movement import RATE_HZ, SpeedCurves, compute_loudness_rise, compute_movement
from formcheck.pairing.pair_review import align_recordings
from formcheck.pairing.reps import CameraReps, merge_reps, shift_rep
from rendered_sets import RenderedSet, map_sets

SOUND_HZ = 8000
SOUND_M_PER_S = 343.0
CUT = (0.2, 0.45)
"""Least and most of a clip that is cut away."""
FAR_OFF_S = 0.2
"""Further off, a pair was laid over one another another way."""


@dataclass(frozen=True)
class Film:
    """What one camera of the part `pairs` gives."""

    name: str
    curves: SpeedCurves
    document: dict[str, Any]
    reps: tuple[Rep, ...]
    length_s: float

    @property
    def exercise(self) -> str:
        """Its exercise's id."""
        return str(self.document["exercise"])


@dataclass(frozen=True)
class Case:
    """Two films, how far the second is cut, and whether they have sound."""

    first: str
    second: str
    cut: float = 0.0
    """Share of the second film: at its beginning where above 0, at its end where below."""
    sound: bool = False


@dataclass(frozen=True)
class Outcome:
    """What became of a case."""

    verdict: str
    """"accepted", "asked" or "refused"."""
    why: str
    found: Alignment | None
    """The alignment accepted, or else the best one from the movement."""
    error_s: float
    """Of its offset."""


def load_film(one: RenderedSet) -> Film:
    """The film of one camera, analysed."""
    seen = analyse_camera(one.recording, one.exercise)
    curves = compute_movement(one.recording, seen.signals.t, seen.driver)
    return Film(one.name, curves, one.document, seen.reps, float(one.recording.t[-1]))


def lay_over(films: dict[str, Film], case: Case) -> Outcome:
    """What becomes of two films."""
    first, second = films[case.first], films[case.second]
    curves = _cut(second.curves, case.cut)
    sounds = (make_sound(first), make_sound(second)) if case.sound else None
    verdict, why, found = "accepted", "", None
    try:
        found = align_recordings(first.curves, curves, sounds)
    except UnclearPairError as error:
        verdict, why = "asked", str(error)
    except PairingError as error:
        verdict, why = "refused", str(error)
    found = found or align(first.curves, curves)
    true = second.document["begins"] - first.document["begins"]
    return Outcome(verdict, why, found, found.offset_s - true if found else np.inf)


def _cut(curves: SpeedCurves, share: float) -> SpeedCurves:
    n, gone = len(curves.speeds), int(abs(share) * len(curves.speeds))
    if share < 0:
        return replace(curves, speeds=curves.speeds[: n - gone])
    return replace(curves, start=curves.start + gone / RATE_HZ, speeds=curves.speeds[gone:])


def make_sound(film: Film) -> SpeedCurves:
    """How the loudness of what a camera would have heard rises."""
    document = film.document
    room = np.random.default_rng([document["number"], 7])
    begins, length = document["begins"], film.length_s
    until = max(rep["end"] for rep in document["reps"]) + 6.0
    weights = [rep["end"] for rep in document["reps"]]
    others = list(room.uniform(0.0, until, 5))
    beat = room.uniform(0.45, 0.6)
    music = list(np.arange(room.uniform(0.0, beat), until, beat))
    loud = {
        **{at + room.normal(0.0, 0.03): room.uniform(0.05, 0.3) for at in weights},
        **{at: room.uniform(0.05, 0.4) for at in others},
        **{at: room.uniform(0.02, 0.1) for at in music},
    }
    own = np.random.default_rng([document["number"], ord(film.name[-1])])
    late = document["camera"]["distance"] / SOUND_M_PER_S + own.uniform(-0.03, 0.03)
    t = np.arange(round(length * SOUND_HZ)) / SOUND_HZ + begins
    sound = 0.01 * own.standard_normal(len(t))
    for at, size in loud.items():
        begin = int(np.searchsorted(t, at + late))
        since = t[begin : begin + SOUND_HZ] - at - late
        sound[begin : begin + SOUND_HZ] += size * np.exp(-15 * since) * np.sin(2 * np.pi * 600 * since)
    return compute_loudness_rise(0.0, sound * own.uniform(0.5, 2.0), SOUND_HZ)


def list_cases(names: Sequence[str], films: dict[str, Film]) -> Iterator[tuple[str, list[Case]]]:
    """Title and cases of each table."""
    rng = np.random.default_rng(3)
    same = [Case(a, b) for a, b in zip(names[::2], names[1::2], strict=True)]
    other = [
        Case(a, b)
        for a, b in combinations(names, 2)
        if films[a].exercise == films[b].exercise and films[a].document["number"] != films[b].document["number"]
    ]

    def cut(cases: list[Case]) -> list[Case]:
        return [replace(case, cut=float(rng.uniform(*CUT) * rng.choice([-1, 1]))) for case in cases]

    yield "of one set, without sound", same
    yield "of one set, with sound", [replace(one, sound=True) for one in same if films[one.first].document["sound"]]
    yield "of different sets", other
    yield "of one set, cut", cut(same)
    yield "of different sets, cut", cut(other)


def print_table(title: str, cases: Sequence[Case], outcomes: Sequence[Outcome], *, details: bool) -> None:
    """How many were accepted, asked about and refused, and the errors of those of one set."""
    same = cases[0].first[:3] == cases[0].second[:3]
    counts = {name: sum(one.verdict == name for one in outcomes) for name in ("accepted", "asked", "refused")}
    told = ", ".join(f"{count} {name}" for name, count in counts.items())
    print(f"\n{len(cases)} pairs {title}: {told} ({counts['accepted'] / len(cases):.1%} accepted)")
    for case, one in zip(cases, outcomes, strict=True):
        if (one.verdict == "accepted") != same or (details and same):
            print(f"  {case.first} {case.second}: {one.verdict} {describe(one)}{one.why and ' | ' + one.why}")
    taken = [one for one in outcomes if one.verdict == "accepted" and one.found is not None]
    if same and taken:
        errors = np.abs([one.error_s for one in taken])
        inside = sum(abs(one.error_s) <= one.found.margin_s for one in taken if one.found is not None)
        near = ", ".join(f"by at most {most} s: {(errors <= most).sum()}" for most in (0.05, 0.1))
        print(
            f"  of {len(taken)} accepted, off {near}, by at most the margin: {inside}; median {np.median(errors):.3f} s"
        )


def describe(one: Outcome) -> str:
    """The numbers of an alignment."""
    found = one.found
    if found is None:
        return ""
    return (
        f"(off by {one.error_s:+.3f} s, margin {found.margin_s:.3f}, {compute_confidence(found):.2%} sure: spread "
        f"{found.spread_s:.3f} s, lead {found.lead:.0f}, share {found.share:.2f}, {found.strokes} strokes)"
    )


def print_reps(cases: Sequence[Case], outcomes: Sequence[Outcome], films: dict[str, Film]) -> None:
    """How many sets of both arms have all reps in either clip alone, and in both together."""
    right, sets = [0, 0, 0], 0
    for case, one in zip(cases, outcomes, strict=True):
        first, second = films[case.first], films[case.second]
        if one.verdict != "accepted" or one.found is None or first.document["sides"] != "both":
            continue
        offset, begins = one.found.offset_s, first.document["begins"]
        shifted = tuple(shift_rep(rep, offset) for rep in second.reps)
        seen = (CameraReps(0.0, first.length_s, first.reps), CameraReps(offset, offset + second.length_s, shifted))
        both, _ = merge_reps(*seen, "first")
        planned = [((rep["start"] + rep["end"]) / 2 - begins) for rep in first.document["reps"]]
        sets += 1
        for index, reps in enumerate((first.reps, shifted, both)):
            found = sum(any(rep.start_s <= at <= rep.end_s for rep in reps) for at in planned)
            right[index] += found == len(planned)
    told = ", ".join(f"{who}: {count}" for who, count in zip(("first", "second", "both together"), right, strict=True))
    print(f"\nall reps of {sets} sets of both arms found by the cameras, {told}")


def fit(cases: Sequence[Case], outcomes: Sequence[Outcome]) -> Array:
    """The coefficients of `formcheck.pairing.decision`, by Newton's method with a small penalty."""
    rows, same = [], []
    for case, one in zip(cases, outcomes, strict=True):
        own = case.first[:3] == case.second[:3]
        if one.found is None or (own and abs(one.error_s) > FAR_OFF_S):
            continue
        rows.append(list_evidence(one.found))
        same.append(own)
    x, y = np.array(rows), np.array(same, dtype=float)
    middle, size = x.mean(axis=0), x.std(axis=0)
    z = np.column_stack([np.ones(len(x)), (x - middle) / size])
    penalty = np.diag([0.0, *[0.3] * x.shape[1]])
    b = np.zeros(z.shape[1])
    for _ in range(60):
        p = 1.0 / (1.0 + np.exp(-z @ b))
        b -= np.linalg.solve((z.T * (p * (1 - p))) @ z + penalty, z.T @ (p - y) + penalty @ b)
    slopes = b[1:] / size
    base = b[0] - slopes @ middle + np.log(9.0) + np.log((1 - y).sum() / y.sum())
    return np.array([base, *slopes])


def print_held_out(fitted: Sequence[tuple[Case, Outcome]], films: dict[str, Film]) -> None:
    """The coefficients, and what whole pairs of each exercise become with those fitted to all others."""
    print("coefficients", np.round(fit(*zip(*fitted, strict=True)), 3))
    counts = {True: [0, 0], False: [0, 0]}
    for exercise in sorted({film.exercise for film in films.values()}):
        rest = [item for item in fitted if films[item[0].first].exercise != exercise]
        base, *slopes = fit(*zip(*rest, strict=True))
        for case, one in fitted:
            if films[case.first].exercise != exercise or case.cut or one.found is None:
                continue
            score = base + np.dot(slopes, list_evidence(one.found))
            own = counts[case.first[:3] == case.second[:3]]
            own[0] += 1 / (1 + np.exp(-score)) >= ACCEPTED
            own[1] += 1
    print(f"exercises kept out in turn: {counts[True][0]} of {counts[True][1]} pairs of one set accepted, "
          f"{counts[False][0]} of {counts[False][1]} of different sets")  # fmt: skip


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--details", action="store_true", help="a line for each pair of one set")
    parser.add_argument("--fit", action="store_true", help="fit the coefficients of the decision anew")
    options = parser.parse_args()
    films = {film.name: film for film in map_sets(load_film, "pairs", processes=options.processes)}
    fitted: list[tuple[Case, Outcome]] = []
    with ProcessPoolExecutor(options.processes) as pool:
        for title, cases in list_cases(list(films), films):
            outcomes = list(pool.map(partial(lay_over, films), cases, chunksize=40))
            print_table(title, cases, outcomes, details=options.details)
            if title == "of one set, without sound":
                print_reps(cases, outcomes, films)
            if not cases[0].sound:
                fitted += zip(cases, outcomes, strict=True)
    if options.fit:
        print_held_out(fitted, films)


if __name__ == "__main__":
    main()
