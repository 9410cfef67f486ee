"""The commands that look at clips or at the store."""

import json
import shlex
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

import click

from formcheck.batch.planning import fill_set_info
from formcheck.cli import options
from formcheck.cli.options import progress_bar
from formcheck.core.errors import ClipError, FormcheckError, UnclearPairError, UsageError
from formcheck.core.model import Analysis, LandmarkRecording, Review, SetInfo, ViewHint
from formcheck.exercises import own_files
from formcheck.exercises.registry import get_exercise, get_reviewed_exercise
from formcheck.exercises.schema import Exercise
from formcheck.formats import encode
from formcheck.report.problem_text import is_clip_damaged, is_review_blocked
from formcheck.report.reference_text import describe_own
from formcheck.report.wording import summarise
from formcheck.services.own_limits import exercise_for
from formcheck.services.pipeline import Outputs, review_clip
from formcheck.services.reference_rep import (
    attach_reference,
    explain_no_reference,
    find_own_reference_rep,
    list_in_short,
)
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home, recordings_folder


@dataclass(frozen=True, slots=True)
class ReviewRequest:
    """What to review and how; the fields are named as the parameters of the command."""

    clip: Path
    exercise_id: str
    view: ViewHint = "auto"
    load_kg: float | None = None
    target_reps: int | None = None
    each_side: bool = False
    pose_model: Path | None = None
    every_picture: bool = False
    second: Path | None = None
    second_view: ViewHint = "auto"
    same_set: bool = False
    client: str | None = None
    session_on: date | None = None
    set_number: int | None = None

    def format_command(self, exercise_id: str) -> str:
        """The command that reviews the same clip as another exercise without storing it, to be typed as it stands."""
        words = ["formcheck", "review", str(self.clip), "--exercise", exercise_id]
        for option, value in (
            ("--view", self.view),
            ("--with", self.second),
            ("--with-view", self.second_view),
            ("--load", self.load_kg),
            ("--target-reps", self.target_reps),
            ("--pose-model", self.pose_model),
        ):
            if value not in (None, "auto"):
                words += [option, f"{value:g}" if isinstance(value, float) else str(value)]
        flags = (
            ("--each-side", self.each_side),
            ("--every-picture", self.every_picture),
            ("--same-set", self.same_set),
        )
        return shlex.join([*words, *(option for option, given in flags if given), "--no-save"])

    def review(self, title: str, exercise: Exercise) -> tuple[Analysis, LandmarkRecording]:
        """Do it, showing the progress under this title."""
        with progress_bar(title) as show, _name_same_set_option():
            return review_clip(
                self.clip,
                exercise,
                view=self.view,
                second=self.second,
                second_view=self.second_view,
                same_set=self.same_set,
                set_info=SetInfo(self.load_kg, self.target_reps, self.each_side),
                pose_model=self.pose_model,
                every_picture=self.every_picture,
                cache_dir=recordings_folder(),
                on_progress=show,
            )


@contextmanager
def _name_same_set_option() -> Iterator[None]:
    """Say how to answer what is asked about two clips."""
    try:
        yield
    except UnclearPairError as error:
        words = f"{str(error).removesuffix('.')}; if they do, say so with --same-set."
        raise UnclearPairError(words) from error


def format_correct_command(number: int, exercise_id: str) -> str:
    """The command that makes of a stored review one of another exercise, to be typed as it stands."""
    return _format_command("correct", str(number), "--exercise", exercise_id)


def format_details_command(number: int) -> str:
    """The command that prints a stored review with all its details, to be typed as it stands."""
    return _format_command("history", str(number), "--details")


def _format_command(*words: str) -> str:
    url = click.get_current_context().params.get("store")
    return shlex.join(["formcheck", *words, *(["--store", url] if url else [])])


def review(
    request: ReviewRequest, outputs: Outputs, *, json_to_screen: bool, save: bool, details: bool, store_url: str | None
) -> None:
    """Review a clip, store the review, write the files and print it."""
    exercise, number = get_exercise(request.exercise_id), None
    for clip in filter(None, (request.clip, request.second)):
        outputs.check(clip)
    with options.open_store(store_url) if save else nullcontext() as store:
        if store is not None:
            store.check_writable()  # before the long work
            client = None if request.client is None else store.find_client(request.client)
            exercise = exercise_for(store, request.exercise_id, None if client is None else client.id)
            if client is not None:
                request = _fill_from_plan(request, store, client.id)
        title = "Looking at the clips" if request.second else "Looking at the clip"
        analysis, recording = request.review(title, exercise)
        made_at = datetime.now(UTC)
        if store is not None:
            number = store.save_review(
                analysis.review,
                created_at=made_at,
                client=request.client,
                clip_path=request.clip.absolute(),
                session_on=request.session_on,
                set_number=request.set_number,
            )
            analysis = replace(analysis, review=attach_reference(store, number, analysis.review))
    paths = [path for path in (outputs.json, outputs.report, outputs.pdf, outputs.overlay) if path is not None]
    try:
        if paths:
            today = made_at.astimezone().date()
            with progress_bar("Drawing the skeleton" if outputs.overlay else "Writing") as show:
                outputs.write(analysis, recording, request.clip, exercise, reviewed_on=today, on_progress=show)
    except Exception:
        _print_saved(number, request.exercise_id, quiet=True)
        raise
    if json_to_screen:
        options.write_text(options.STDOUT, encode(analysis.review, indent=2))
    else:
        _print_review(analysis.review, number, request.format_command, details=details)
    for path in paths:
        click.echo(f"Written: {path}", err=json_to_screen)
    _print_saved(number, request.exercise_id, quiet=json_to_screen)
    if is_review_blocked(analysis.review) or is_clip_damaged(analysis.review):
        click.get_current_context().exit(1)


def _print_saved(number: int | None, exercise_id: str, *, quiet: bool) -> None:
    if number is None:
        return
    click.echo(f"Kept as review {number} (formcheck history {number}).", err=quiet)
    own = own_files.find_added_file(exercise_id.partition("/")[0])
    if own is not None:
        later = f"To correct it later, or review others alike, put {own.name} into {own_files.get_own_folder()}."
        click.echo(later, err=quiet)


def _fill_from_plan(request: ReviewRequest, store: Store, client_id: int) -> ReviewRequest:
    """Load and target reps that were not given, from the client's plan."""
    day = request.session_on or datetime.now().astimezone().date()
    number = request.set_number or store.next_set(client_id, request.exercise_id, day)
    given = SetInfo(request.load_kg, request.target_reps, request.each_side)
    info = fill_set_info(given, store, client_id, request.exercise_id, day, number)
    return replace(request, load_kg=info.load_kg, target_reps=info.target_reps, each_side=info.target_each_side)


def list_reviews(store: Store, exercise_id: str | None, client: str | None, limit: int) -> None:
    """Print the newest rows."""
    from formcheck.cli.printing import print_history

    client_id = None if client is None else store.get_client(client).id
    rows = store.list_reviews(client=client_id, exercise_id=exercise_id, limit=limit)
    if exercise_id is not None and not rows:
        get_exercise(exercise_id)
    print_history(rows, {} if client_id is None else list_in_short(store, rows))


def print_stored_review(store: Store, number: int, json_file: Path | None, *, details: bool) -> None:
    """Print a stored review, or write it as JSON."""
    stored = attach_reference(store, number, store.load_review(number))
    if not options.write_text(json_file, encode(stored, indent=2)):
        _print_review(stored, number, details=details)
        if own := find_own_reference_rep(store, number, stored):
            click.echo(describe_own(own))
        elif why := explain_no_reference(store, number, stored):
            click.echo(why)


def _print_review(
    result: Review, number: int | None, format_command: Callable[[str], str] | None = None, *, details: bool
) -> None:
    """Print a review; `format_command` as for `print_review`, for one that is not stored."""
    from formcheck.cli.printing import print_review

    exercise = None
    try:
        exercise = get_reviewed_exercise(result.exercise.id)
    except UsageError as error:
        click.echo(f"{error} The stored numbers are shown.", err=True)
    if number is not None:
        format_command = partial(format_correct_command, number)
    more = "add --details" if number is None else format_details_command(number)
    stored = number is not None
    print_review(result, exercise, format_command=format_command, stored=stored, details=details, more=more)


# ---------------------------------------------------------------- the shipped clips


def install_demo(clips: Path | None, pose_model: Path | None, store_url: str | None) -> None:
    """Review every clip of a folder that has a truth file, unless the store holds it.

    Without a folder: an invented client's six weeks first, then the shipped clips. One process at a time does it.
    """
    from formcheck.demo.install import hold_install_lock, write_progress
    from formcheck.storage import media_files

    folder = clips if clips is not None else media_files.shipped_folder()
    found = sorted(folder.glob("*.mp4")) if folder.is_dir() else []
    with hold_install_lock(data_home()) as ours:
        if not ours:
            click.echo("Another formcheck is preparing the examples already.")
            return
        write_progress(data_home(), 0, len(found))
        with options.open_store(store_url) as store:
            if clips is None:
                _install_story(store)
            if not found:
                raise ClipError(f"There are no clips in {str(folder)!r}; --clips DIR names another folder.")
            _review_demo_clips(found, pose_model, store)


def _review_demo_clips(clips: list[Path], pose_model: Path | None, store: Store) -> None:
    from formcheck.demo.install import write_progress

    failed = 0
    for position, clip in enumerate(clips):
        write_progress(data_home(), position, len(clips))
        try:
            message = _review_demo_clip(clip, f"Clip {position + 1} of {len(clips)}", pose_model, store)
            click.echo(f"{clip.name}: {message}")
        except FormcheckError as error:
            failed += 1
            click.echo(f"{clip.name}: {error}", err=True)
    if failed:
        raise ClipError(f"{failed} of {len(clips)} clips could not be reviewed.")


def _install_story(store: Store) -> None:
    from formcheck.demo.story import CLIENT, EXERCISE, WEEKS, install_story

    today = datetime.now().astimezone().date()
    with progress_bar("Preparing the invented client") as show:
        made = install_story(store, recordings_folder(), today=today, on_progress=show)
    if made:
        click.echo(f"{CLIENT}: {WEEKS} weeks of an invented client, {made} drawn sets; nobody was filmed.")
        click.echo(f'See them with: formcheck progress "{CLIENT}" --exercise {EXERCISE} --set 3')
    else:
        click.echo(f"{CLIENT}: already in the store.")


def _review_demo_clip(clip: Path, title: str, pose_model: Path | None, store: Store) -> str:
    from formcheck.services.drawing import draw_all
    from formcheck.services.review_outputs import ReviewOutputs, load_review_outputs
    from formcheck.video.clip_file import compute_clip_sha256

    exercise_id = _read_true_exercise(clip)
    exercise = get_exercise(exercise_id)
    if known := store.list_reviews(clip_sha256=compute_clip_sha256(clip), exercise_id=exercise_id, limit=1):
        drawn = DataFolder(data_home()).artifacts(known[0].id)
        if not drawn.complete:
            draw_all(drawn, load_review_outputs(store, known[0].id, data_home()), clip)
        return "already in the store."
    request = ReviewRequest(clip, exercise_id, pose_model=pose_model)
    analysis, recording = request.review(title, exercise)
    made_at = datetime.now(UTC)
    number = store.save_review(analysis.review, created_at=made_at, clip_path=clip.absolute())
    made = ReviewOutputs(analysis, recording, exercise, clip, made_at.astimezone().date())
    draw_all(DataFolder(data_home()).artifacts(number), made, clip)  # so that the page opens it at once
    return f"review {number}, {exercise_id}. {summarise(analysis.review)}"


def _read_true_exercise(clip: Path) -> str:
    truth = clip.with_suffix(".truth.json")
    try:
        loaded = json.loads(truth.read_text(encoding="utf-8"))
    except OSError as error:
        raise ClipError(f"Its truth file {truth.name} cannot be read: {error.strerror}.") from error
    except ValueError as error:
        raise ClipError(f"Its truth file {truth.name} is not JSON.") from error
    exercise_id = loaded.get("exercise") if isinstance(loaded, dict) else None
    if not isinstance(exercise_id, str):
        raise ClipError(f"Its truth file {truth.name} does not name the exercise.")
    return exercise_id
