"""Plots one set: the course of the arms, the reps, and each rep's highest point with its margin.

    python examples/plot_a_set.py                                   an invented, rendered set whose landmarks are stored
    python examples/plot_a_set.py my-set.mp4 lateral-raise          a clip of your own
    python examples/plot_a_set.py my-set.mp4 lateral-raise my.png   into that file

Editors that know `# %%` run it cell by cell.
"""

# %% What is looked at
import sys
from pathlib import Path

import matplotlib.pyplot as plt

import formcheck

ROOT = Path(__file__).resolve().parent.parent
STORED = ROOT / "tools" / "benchmarks" / "recordings" / "shipped" / "lateral_raise_front_clean.npz"
arguments = sys.argv[1:]
film = Path(arguments[0]) if arguments else STORED
exercise = formcheck.load_exercise(arguments[1] if len(arguments) > 1 else "lateral-raise")
picture = Path(arguments[2] if len(arguments) > 2 else "a_set.png")

# %% Landmarks, then everything else in a moment
landmarks = formcheck.read_landmarks(film) if film.suffix == ".npz" else formcheck.find_landmarks(film)
analysis = formcheck.analyse(landmarks, exercise)
review = analysis.review
print(f"{review.exercise.name}: {len(review.reps)} reps")
for finding in review.findings:
    print(f"  {finding.verdict:9}  {finding.text}")

# %% The course of the lift, with each complete rep shaded
figure, (course, tops) = plt.subplots(2, 1, figsize=(9, 6), constrained_layout=True)
course.plot(analysis.signals.t, analysis.driver, color="black", linewidth=1)
for rep in review.reps:
    course.axvspan(rep.start_s, rep.end_s, alpha=0.2 if rep.complete else 0.07)
    course.annotate(str(rep.number), (rep.top_s, 0.02), xycoords=("data", "axes fraction"), ha="center")
course.set_xlabel("seconds")
course.set_ylabel("degrees")
course.set_title(f"{review.exercise.name}: the curve that makes the reps")

# %% Each rep's highest point, with its margin, against the limit of the exercise
check = next((check for check in exercise.checks if check.unit == "deg"), exercise.checks[0])
measured = [item for item in review.measures if item.name == check.measure and item.value is not None]
for side, mark in (("left", "o"), ("right", "s"), (None, "o")):
    of_side = [item for item in measured if item.side == side]
    if of_side:
        tops.errorbar(
            [item.rep or 0 for item in of_side],
            [item.value or 0.0 for item in of_side],
            yerr=[item.margin or 0.0 for item in of_side],
            fmt=mark,
            capsize=4,
            label=side or check.title,
        )
tops.axhline(check.limit, color="grey", linestyle="--", label=f"limit ({check.limit:g})")
tops.set_xlabel("rep")
tops.set_ylabel("degrees")
tops.set_title(check.title)
tops.legend()

# %% Into a file
figure.savefig(picture, dpi=110)
print(f"Written: {picture}")
