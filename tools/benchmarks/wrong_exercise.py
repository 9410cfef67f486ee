"""How often a set reviewed as another exercise is recognised as such, and whether one reviewed as what it is ever is.

    python tools/benchmarks/wrong_exercise.py [--sets N] [--right-only]

Reviews the first N tuning sets as each exercise that has something to measure from where the camera stood. Prints, by
exercise asked for, how many reviews name the true exercise, name another, find no rep, or pass for right. Exercises
that differ in what no landmark shows (the bar, the palms, the bench) count as one. `--right-only` reviews sets as
what they are alone.
"""

import argparse
from collections import Counter, defaultdict
from functools import partial

from formcheck.analysis import analyse
from formcheck.core.model import QualityProblem, Settings
from formcheck.exercises.registry import load_exercises
from formcheck.services.other_exercise import name_other_exercise
from formcheck.signals.camera import estimate_view
from rendered_sets import RenderedSet, map_sets

ONE = ({"dumbbell-press", "guided-bar-press", "turning-palm-press"}, {"bench-lateral-raise", "bent-over-lateral-raise"})
TRUE, OTHER, NO_REPS, SILENT = OUTCOMES = ("true one named", "another named", "no rep, none named", "taken as right")
QUICK = Settings(fit_body=False)  # reps do not depend on the fitted body
Reviewed = tuple[str, str, str, int, QualityProblem | None]
"""Set, true exercise, exercise asked for, reps found, the problem that it is another."""


def same(one: str, other: str) -> bool:
    """Whether landmarks cannot tell two exercises apart."""
    return one == other or any({one, other} <= group for group in ONE)


def review_as_each(one: RenderedSet, *, right_only: bool) -> list[Reviewed]:
    """A set reviewed as each exercise that its camera shows something of."""
    results: list[Reviewed] = []
    view = estimate_view(one.recording, "auto").name
    exercises = load_exercises()
    for name, exercise in exercises.items():
        shown = any(view in use.views for use in exercise.measures)
        if name == one.exercise.id or (shown and not right_only):
            analysis = analyse(one.recording, exercise, settings=QUICK)
            result = name_other_exercise(analysis, one.recording, exercises.values(), settings=QUICK)
            named = [item for item in result.review.quality.problems if item.code == "other-exercise"]
            results.append((one.name, one.exercise.id, name, len(analysis.review.reps), next(iter(named), None)))
    return results


def outcome_of(truth: str, reps: int, problem: QualityProblem | None) -> str:
    """What a set of one exercise reviewed as another came to."""
    if problem is None:
        return SILENT if reps else NO_REPS
    names = [str(problem.parameters["exercise"]), *str(problem.parameters["also"]).split()]
    return TRUE if any(same(name, truth) for name in names) else OTHER


def main() -> None:
    """Print the table and the counts."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--sets", type=int, default=39, metavar="N", help="default 39, three an exercise; there are 260"
    )
    parser.add_argument("--right-only", action="store_true")
    given = parser.parse_args()
    table: dict[str, Counter[str]] = defaultdict(Counter)
    right = wrong = 0
    words = [f"{number:03d}_" for number in range(given.sets)]
    for results in map_sets(partial(review_as_each, right_only=given.right_only), "tuning", words):
        for name, truth, asked, reps, problem in results:
            if not same(asked, truth):
                table[asked][outcome_of(truth, reps, problem)] += 1
            elif asked == truth:
                right += 1
                wrong += problem is not None
                if problem is not None:
                    print(f"wrongly named: {name} is called {problem.parameters['exercise']}")
    if table:
        print(f"{'reviewed wrongly as':28}{'sets':>6}{''.join(f'{outcome:>20}' for outcome in OUTCOMES)}")
    for asked, counts in [*sorted(table.items()), ("all", sum(table.values(), Counter()))]:
        if counts:
            print(f"{asked:28}{counts.total():6}{''.join(f'{counts[outcome]:20}' for outcome in OUTCOMES)}")
    print(f"\nreviewed as what they are: {wrong} of {right} called another exercise")


if __name__ == "__main__":
    main()
