"""How often a set reviewed as another exercise is told, and whether one reviewed as what it is ever is.

    python tools/benchmarks/wrong_exercise.py [--right-only] [FOLDER ...]        default: the tuning part

Reviews every set as each exercise that has something to measure from where the camera stood, and prints, by asked and
true exercise, how many were told and how. Exercises that differ in what no landmark shows (the bar, the palms, the
bench) count as one. `--right-only` reviews sets as what they are alone. Ends with 1 where a set reviewed as what it is
was told to be another.
"""

import argparse
import sys
from collections import Counter, defaultdict
from pathlib import Path

from cases import FOLDERS, load_cases
from formcheck.analysis import analyse
from formcheck.core.model import CameraView, LandmarkRecording, QualityProblem, Settings
from formcheck.exercises.registry import load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.services.other_exercise import name_other_exercise
from formcheck.signals.camera import estimate_view

ONE = ({"dumbbell-press", "guided-bar-press", "turning-palm-press"}, {"bench-lateral-raise", "bent-over-lateral-raise"})
TOLD, OTHER = "told, rightly named", "told, another named"
NO_REPS, SILENT = "no rep found, none named", "repetitions taken as right"
QUICK = Settings(fit_body=False)  # repetitions do not depend on the fitted body


def same(one: str, other: str) -> bool:
    """Whether landmarks tell two exercises apart."""
    return one == other or any({one, other} <= group for group in ONE)


def named(recording: LandmarkRecording, exercise: Exercise) -> tuple[int, QualityProblem | None]:
    """Repetitions found of the exercise asked for, and the problem that it is another."""
    analysis = analyse(recording, exercise, settings=QUICK)
    result = name_other_exercise(analysis, recording, load_exercises().values(), settings=QUICK)
    told = [item for item in result.review.quality.problems if item.code == "other-exercise"]
    return len(analysis.review.reps), told[0] if told else None


def permitted(exercise: Exercise, view: CameraView) -> bool:
    """Whether anything is measured from there."""
    return any(view.name in use.views for use in exercise.measures)


def outcome(truth: str, reps: int, problem: QualityProblem | None) -> str:
    """What a set of one exercise reviewed as another was told."""
    if problem is None:
        return SILENT if reps else NO_REPS
    names = [str(problem.parameters["exercise"]), *str(problem.parameters["also"]).split()]
    return TOLD if any(same(name, truth) for name in names) else OTHER


def main() -> int:
    """Print the matrix and the shares."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=[FOLDERS["tuning"]])
    parser.add_argument("--right-only", action="store_true")
    given = parser.parse_args()
    shelf = load_exercises()
    table: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    with_reps: Counter[str] = Counter()
    right = false = 0
    for case in (case for folder in given.folders for case in load_cases(folder) if case.no_exercise is None):
        view = estimate_view(case.recording, "auto")
        for asked, exercise in shelf.items():
            if asked != case.exercise and (given.right_only or not permitted(exercise, view)):
                continue
            reps, problem = named(case.recording, exercise)
            if same(asked, case.exercise):
                right += 1
                false += problem is not None
                if problem is not None:
                    print(f"WRONGLY TOLD  {case.name} as {asked}: {dict(problem.parameters)}", flush=True)
                continue
            told = outcome(case.exercise, reps, problem)
            table[asked, case.exercise][told] += 1
            if reps:
                with_reps[told] += 1
    for (asked, truth), counts in sorted(table.items()):
        print(f"{asked:25}{truth:25}{', '.join(f'{how} {count}' for how, count in counts.most_common())}")
    for title, counts in (("reviewed as another", sum(table.values(), Counter())), ("of these with reps", with_reps)):
        whole = counts.total()
        shares = ", ".join(f"{how} {count} ({count / whole:.0%})" for how, count in counts.most_common())
        print(f"\n{title}: {whole} reviews{': ' if whole else ''}{shares}")
    print(f"\nreviewed as what they are: wrongly told {false} of {right}")
    return 1 if false else 0


if __name__ == "__main__":
    sys.exit(main())
