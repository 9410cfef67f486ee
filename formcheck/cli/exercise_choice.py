"""Which exercise a clip is reviewed as when the user names none."""

from pathlib import Path

import click

from formcheck.cli.options import print_own_exercise_problems, progress_bar
from formcheck.core.errors import UsageError
from formcheck.exercises.registry import get_exercise
from formcheck.recognition.suggest import Suggestion
from formcheck.report import wording
from formcheck.report.problem_text import describe_problem
from formcheck.report.words import describe_reason
from formcheck.services.pipeline import suggest_exercise
from formcheck.storage.data_folder import recordings_folder

AUTO = "auto"
SHOWN = 3


def _suggest(clip: Path, pose_model: Path | None, *, every_picture: bool = False) -> Suggestion:
    print_own_exercise_problems()
    with progress_bar("Looking at the clip") as show:
        return suggest_exercise(
            clip,
            pose_model=pose_model,
            every_picture=every_picture,
            cache_dir=recordings_folder(),
            on_progress=show,
        )


def choose_exercise(clip: Path, wanted: str | None, pose_model: Path | None, *, every_picture: bool = False) -> str:
    """The exercise to review: the one named, or with ``auto`` the one the clip clearly shows.

    Raises UsageError with what the clip looks like when none was named, or when it is not clear.
    """
    if wanted not in (None, AUTO):
        return wanted
    found = _suggest(clip, pose_model, every_picture=every_picture)
    if wanted is None or found.exercise_id is None:
        raise UsageError(f"{describe_suggestion(found)} {_describe_next_step(found)}".strip())
    click.echo(f"{describe_suggestion(found)} Reviewed as that; --exercise ID names another.", err=True)
    return found.exercise_id


def print_suggestion(clip: Path, pose_model: Path | None) -> None:
    """Print what a clip looks like, and why."""
    found = _suggest(clip, pose_model)
    click.echo(describe_suggestion(found))
    for name, confidence in found.ranked[:SHOWN]:
        if confidence >= 0.01:
            click.echo(f"  {confidence:4.0%}  {name}: {get_exercise(name).name}")
    if found.reasons:
        click.echo(f"What speaks for the first: {'; '.join(map(describe_reason, found.reasons))}.")
    if found.usable:
        click.echo(_describe_next_step(found))


def describe_suggestion(found: Suggestion) -> str:
    """What the clip looks like, or why that cannot be told, in one sentence."""
    sentences = [describe_problem(problem) for problem in found.problems]
    return " ".join([*sentences, _describe_likeness(found)] if found.usable else sentences)


def _describe_likeness(found: Suggestion) -> str:
    if not found.alike:
        return "This looks like none of the exercises formcheck knows."
    view = wording.describe_view(found.view)
    view = f"{view[:1].lower()}{view[1:]}"
    names = [get_exercise(name).name for name in found.alike[:SHOWN]]
    share = sum(confidence for name, confidence in found.ranked if name in found.alike[:SHOWN])
    if len(names) == 1:
        return f"Looks like {names[0]} ({share:.0%}), {view}."
    either = f"{', '.join(names[:-1])} or {names[-1]}"
    return f"Looks like {either} (together {share:.0%}), {view}: this clip does not tell which."


def _describe_next_step(found: Suggestion) -> str:
    if not found.usable:
        return ""
    if not found.alike:
        return "Name the exercise with --exercise ID (see formcheck exercises)."
    return f"Review it with {' or '.join(f'--exercise {name}' for name in found.alike[:SHOWN])}."
