"""Every hostile input through the review: a right review or one clear sentence, within bounds; prints a table.

Usage: ``python tools/benchmarks/hostile.py [--only WORD] [--list]``. Each clip is looked at by the real pose model in
its sandboxed processes. A right review has the reference's reps, and each rep's top angle near the reference's.
"""

import argparse
import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from av.error import FFmpegError

from formcheck.core.errors import FormcheckError
from formcheck.core.model import Review
from formcheck.exercises.registry import get_exercise
from formcheck.sandbox.sandboxed_tracking import SandboxLimits
from formcheck.services.pipeline import review_clip
from hostile_films import Case, Film, pictures
from hostile_inputs import cases

EXERCISE, MEASURE = "lateral-raise", "arm_elevation_peak"


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a case ended."""

    told: str
    """The sentence, or the review in short."""
    wrong: str = ""
    """What is not as it should be; empty when all is well."""


def tops(review: Review) -> list[float]:
    """Every rep's top angle on every side, degrees."""
    found = [m for m in review.measures if m.name == MEASURE and m.rep is not None and m.value is not None]
    return [float(m.value) for m in sorted(found, key=lambda m: (m.rep or 0, m.side or "")) if m.value is not None]


def reviewed(clip: Path) -> Review:
    """The review of a clip, nothing kept."""
    with tempfile.TemporaryDirectory() as kept:
        return review_clip(clip, get_exercise(EXERCISE), cache_dir=Path(kept))[0].review


def same(review: Review, reference: Review, within_deg: float) -> str:
    """What differs from the reference, or nothing."""
    if len(review.reps) != len(reference.reps):
        return f"{len(review.reps)} reps instead of {len(reference.reps)}"
    pairs = list(zip(tops(review), tops(reference), strict=False))
    if len(tops(review)) != len(tops(reference)):
        return f"{len(tops(review))} top angles instead of {len(tops(reference))}"
    # left and right are taken for one another in a mirrored film, so the two of a rep are compared in either order
    worst = max((abs(a - b) for a, b in pairs), default=0.0)
    return "" if worst <= within_deg else f"a top angle is {worst:.1f}° off"


def judged(case: Case, clip: Path, reference: Review) -> Outcome:
    """Review a case's clip and hold the end against what it should be."""
    try:
        review = reviewed(clip)
    except FormcheckError as error:
        sentence = str(error)
        clear = sentence.endswith(".") and sentence.isprintable() and len(sentence) < 600
        wrong = "" if clear else "not one clear sentence"
        if case.want not in ("sentence", "either"):
            wrong = "refused"
        elif case.says not in sentence:
            wrong = f"does not say {case.says!r}"
        return Outcome(sentence, wrong)
    except Exception as error:  # the very thing that must not happen
        return Outcome(f"{type(error).__name__}: {error}", "a traceback")
    # what the reference is told too says nothing about this case
    notes = [note for note in review.quality.notes if note not in reference.quality.notes]
    told = f"{len(review.reps)} reps, top {', '.join(f'{top:.0f}' for top in tops(review)[:4])}; {' '.join(notes)}"
    unlike = same(review, reference, case.within_deg)
    wrong = ""
    if case.want == "sentence":
        wrong = "reviewed, and should have been refused"
    elif case.want == "same":
        wrong = unlike
    elif case.want == "told" and unlike and review.reps and not notes:
        wrong = f"{unlike}, and no note says why"
    elif case.want == "none" and review.reps:
        wrong = "reps where there are none"
    return Outcome(told, wrong)


def most_mib() -> float:
    """The most memory any process of ours has taken so far, MiB; 0 where the system does not tell."""
    try:
        import resource
    except ImportError:
        return 0.0
    unit = 1 if sys.platform == "darwin" else 1024
    return float(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * unit / 1024**2)


def run(chosen: list[Case]) -> list[tuple[Case, Outcome]]:
    """Every case, a line each as it ends."""
    ends = []
    with tempfile.TemporaryDirectory() as made:
        reference = reviewed(Film().write(Path(made), pictures()))
    print(f"reference: {len(reference.reps)} reps, top {', '.join(f'{top:.1f}' for top in tops(reference))}\n")
    print(f"{'case':46} {'':5} {'s':>6} {'MiB':>6}  ended in")
    for case in chosen:
        with tempfile.TemporaryDirectory() as folder:
            try:
                clip = case.make(Path(folder))
            except (FFmpegError, OSError) as error:  # an encoder or a name this machine does not have
                print(f"{case.name:46} {'-':5} {'':6} {'':6}  cannot be made here: {error}"[:160], flush=True)
                continue
            begun = time.monotonic()
            outcome = judged(case, clip, reference)
            took = time.monotonic() - begun
        if took > SandboxLimits().compute_allowed_s(15 * 60):
            outcome = Outcome(outcome.told, "took too long")
        ends.append((case, outcome))
        mark = "FAIL" if outcome.wrong else "ok"
        told = f"{outcome.wrong}: {outcome.told}" if outcome.wrong else outcome.told
        line = f"{case.name:46} {mark:5} {took:6.1f} {most_mib():6.0f}  {told}"
        print(line.encode("utf-8", "backslashreplace").decode()[:230], flush=True)
    return ends


def main() -> int:
    """Run what was asked for; the exit code says whether all ended as they should."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", metavar="WORD", help="only the cases whose name holds it")
    parser.add_argument("--list", action="store_true", help="only name the cases")
    options = parser.parse_args()
    chosen = [case for case in cases() if options.only in case.name]
    if options.list:
        print("\n".join(f"{case.name}: {case.want}" for case in chosen))
        return 0
    ends = run(chosen)
    failed = [case.name for case, outcome in ends if outcome.wrong]
    ceiling = SandboxLimits().memory_bytes / 1024**2
    print(f"\n{len(ends) - len(failed)} of {len(ends)} ended in a right review or one clear sentence")
    if peak := most_mib():
        print(f"most memory of one process: {peak / ceiling:.2f} of what it may take")
    return 1 if failed or peak > ceiling else 0


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    sys.exit(main())
