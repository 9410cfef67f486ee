"""The commands that look at clips or at the store."""

import json
import shlex
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

import click

from formcheck.cli import options
from formcheck.cli.progress import progress_bar
from formcheck.core.atomic_write import write_output
from formcheck.core.errors import ClipError, FormcheckError, UsageError
from formcheck.core.model import Analysis, LandmarkRecording, Review, SetInfo, ViewHint
from formcheck.exercises import own_files
from formcheck.exercises.registry import exercise_of_review, get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.formats import encode
from formcheck.report.problem_text import review_blocked
from formcheck.report.wording import count, in_short
from formcheck.services.own_limits import exercise_for
from formcheck.services.pipeline import Outputs, review_clip, review_two_clips
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home, recordings_folder


@dataclass(frozen=True, slots=True)
class ReviewRequest:
    """What to review and how."""

    clip: Path
    exercise_id: str
    view: ViewHint = "auto"
    load_kg: float | None = None
    target_reps: int | None = None
    pose_model: Path | None = None
    second: Path | None = None
    second_view: ViewHint = "auto"
    client: str | None = None
    session_on: date | None = None
    set_number: int | None = None

    def command_for(self, exercise_id: str) -> str:
        """The command that reviews the same clip as another exercise without keeping it, to be typed as it stands."""
        words = ["formcheck", "review", str(self.clip), "--exercise", exercise_id]
        for option, value in (
            ("--view", None if self.view == "auto" else self.view),
            ("--with", self.second),
            ("--with-view", None if self.second_view == "auto" else self.second_view),
            ("--load", self.load_kg),
            ("--target-reps", self.target_reps),
            ("--pose-model", self.pose_model),
        ):
            words += [] if value is None else [option, f"{value:g}" if isinstance(value, float) else str(value)]
        return shlex.join([*words, "--no-save"])

    def review(self, title: str, exercise: Exercise | None = None) -> tuple[Analysis, LandmarkRecording]:
        """Do it, showing the progress under this title."""
        exercise = exercise or get_exercise(self.exercise_id)
        if self.second is not None:
            with progress_bar(title) as show:
                return review_two_clips(
                    (self.clip, self.second),
                    exercise,
                    views=(self.view, self.second_view),
                    set_info=SetInfo(self.load_kg, self.target_reps),
                    pose_model=self.pose_model,
                    cache_dir=recordings_folder(),
                    on_progress=show,
                )
        with progress_bar(title) as show:
            return review_clip(
                self.clip,
                exercise,
                view=self.view,
                set_info=SetInfo(self.load_kg, self.target_reps),
                pose_model=self.pose_model,
                cache_dir=recordings_folder(),
                on_progress=show,
            )


def correct_command(number: int, store: str | None, exercise_id: str) -> str:
    """The command that makes of a stored review one of another exercise, to be typed as it stands."""
    place = ["--store", store] if store is not None else []
    return shlex.join(["formcheck", "correct", str(number), "--exercise", exercise_id, *place])


def review(
    wish: ReviewRequest,
    *,
    json_file: Path | None,
    json_to_stdout: bool,
    report: Path | None,
    pdf: Path | None,
    overlay: Path | None,
    blur_faces: bool,
    save: bool,
    store: str | None,
) -> None:
    """Review a clip, keep the review, write the files and print it."""
    exercise = get_exercise(wish.exercise_id)
    outputs = Outputs(json_file, report, overlay, pdf, blur_faces)
    for source in filter(None, (wish.clip, wish.second)):
        outputs.check(source)
    keeper = options.open_store(store) if save else None
    try:
        if keeper is not None:
            keeper.check_writable()  # said before the long look
            known = None if wish.client is None else keeper.find_client(wish.client)
            exercise = exercise_for(keeper, wish.exercise_id, known.id if known is not None else None)
            wish = _fill_from_plan(wish, keeper)
        analysis, recording = wish.review("Looking at the clips" if wish.second else "Looking at the clip", exercise)
        made_at = datetime.now(UTC)
        number = None
        if keeper is not None:
            number = keeper.save_review(
                analysis.review,
                created_at=made_at,
                client=wish.client,
                clip_path=wish.clip.absolute(),
                session_on=wish.session_on,
                set_number=wish.set_number,
            )
    finally:
        if keeper is not None:
            keeper.close()
    try:
        if outputs != Outputs(blur_faces=blur_faces):
            today = made_at.astimezone().date()
            with progress_bar("Drawing the skeleton" if overlay else "Writing") as show:
                outputs.write(analysis, recording, wish.clip, exercise, reviewed_on=today, on_progress=show)
    except Exception:
        _print_saved(number, wish.exercise_id, to_stdout=False)
        raise
    again = partial(correct_command, number, store) if number is not None else wish.command_for
    _print_result(analysis.review, to_stdout=json_to_stdout, as_another=again, kept=number is not None)
    for path in (json_file, report, pdf, overlay):
        if path is not None:
            click.echo(f"Written: {path}", err=json_to_stdout)
    _print_saved(number, wish.exercise_id, to_stdout=not json_to_stdout)
    if review_blocked(analysis.review):
        click.get_current_context().exit(1)


def _print_saved(number: int | None, exercise_id: str, *, to_stdout: bool) -> None:
    if number is None:
        return
    click.echo(f"Kept as review {number} (formcheck history {number}).", err=not to_stdout)
    own = own_files.added_file(exercise_id.partition("/")[0])
    if own is not None:
        later = f"To correct it later, or review others alike, put {own.name} into {own_files.own_folder()}."
        click.echo(later, err=not to_stdout)


def _fill_from_plan(wish: ReviewRequest, store: Store) -> ReviewRequest:
    """Load and target reps that were not given, from the client's plan."""
    known = None if wish.client is None else store.find_client(wish.client)
    if known is None:
        return wish
    day = wish.session_on or datetime.now().astimezone().date()
    held = store.plan_of(known.id, wish.exercise_id, on=day)
    number = wish.set_number or store.next_set(known.id, wish.exercise_id, day)
    planned = held.plan.for_set(number) if held is not None and held.plan is not None else None
    if planned is None:
        return wish
    return replace(
        wish,
        load_kg=planned.load_kg if wish.load_kg is None else wish.load_kg,
        target_reps=planned.reps_high if wish.target_reps is None else wish.target_reps,
    )


def write_text(target: Path | None, text: str, *, end: str = "\n") -> bool:
    """Write a text to the file asked for, or to the screen for ``-``; False when none was asked for."""
    if target is None:
        return False
    if target == Path("-"):
        # As bytes: the format is UTF-8 whatever the terminal's encoding.
        click.echo(text.encode())
        return True
    with write_output(target) as part:
        part.write_text(text + end, encoding="utf-8", newline="")
    click.echo(f"Written: {target}")
    return True


def check_store(where: str | None) -> None:
    """Read everything once."""
    with options.open_store(where) as store:
        found = store.check()
        click.echo(f"The store {store.place} is sound: {count(found, 'review')}, all whole.")


def write_table(where: str | None, number: int, target: Path) -> None:
    """Write every measure of a stored review as CSV."""
    from formcheck.formats.csv_table import measures_csv

    with options.open_store(where) as store:
        write_text(target, measures_csv(store.load_review(number)).removesuffix("\r\n"), end="\r\n")


def list_history(where: str | None, exercise_id: str | None, limit: int, client: str | None = None) -> None:
    """Print the newest rows."""
    from formcheck.cli.printing import print_history

    with options.open_store(where) as store:
        who = None if client is None else store.get_client(client).id
        rows = store.list_reviews(client=who, exercise_id=exercise_id, limit=limit)
    if exercise_id is not None and not rows:
        get_exercise(exercise_id)
    print_history(rows)


def print_stored_review(where: str | None, number: int, json_file: Path | None, *, to_stdout: bool) -> None:
    """Print a stored review, or write it as JSON."""
    with options.open_store(where) as store:
        stored = store.load_review(number)
    if json_file is not None and not to_stdout:
        with write_output(json_file) as part:
            part.write_text(encode(stored, indent=2) + "\n", encoding="utf-8")
        click.echo(f"Written: {json_file}")
        return
    _print_result(stored, to_stdout=to_stdout, as_another=partial(correct_command, number, where), kept=True)


def delete(where: str | None, number: int) -> None:
    """Delete one review with what formcheck keeps for it alone."""
    from formcheck.services.delete import delete_review_data

    with options.open_store(where) as store:
        delete_review_data(store, number, data_home())
    click.echo(f"Review {number} is deleted.")


def _print_result(result: Review, *, to_stdout: bool, as_another: Callable[[str], str], kept: bool) -> None:
    if to_stdout:
        # As bytes: the format is UTF-8 whatever the terminal's encoding.
        click.echo(encode(result, indent=2).encode())
        return
    from formcheck.cli.printing import print_review

    exercise = None
    try:
        exercise = exercise_of_review(result.exercise.id)
    except UsageError as error:
        click.echo(f"{error} What was measured is shown as it was kept.", err=True)
    print_review(result, exercise, as_another=as_another, kept=kept)


# ---------------------------------------------------------------- the shipped clips


def demo(clips: Path | None, pose_model: Path | None, where: str | None) -> None:
    """Review every clip of a folder that has a truth file, unless the store holds it.

    Without a folder: an invented client's six weeks first, then the shipped clips. One process at a time does it.
    """
    from formcheck.demo.install import hold_install_lock, write_progress
    from formcheck.storage import media_files

    folder = clips if clips is not None else media_files.shipped_folder()
    found = sorted(folder.glob("*.mp4")) if folder.is_dir() else []
    with hold_install_lock(data_home()) as ours:
        if not ours:
            click.echo("Another formcheck is at it already: the demo is on its way.")
            return
        write_progress(data_home(), 0, len(found))
        if clips is None:
            _demo_story(where)
        if not found:
            raise ClipError(f"There are no clips in {str(folder)!r}; --clips DIR names another folder.")
        _demo_clips(found, pose_model, where)


def _demo_clips(found: list[Path], pose_model: Path | None, where: str | None) -> None:
    from formcheck.demo.install import write_progress

    failed = 0
    with options.open_store(where) as store:
        for position, clip in enumerate(found, 1):
            write_progress(data_home(), position - 1, len(found))
            try:
                message = _demo_clip(clip, f"Clip {position} of {len(found)}", pose_model, store)
            except FormcheckError as error:
                failed += 1
                click.echo(f"{clip.name}: {error}", err=True)
            else:
                click.echo(f"{clip.name}: {message}")
    if failed:
        raise ClipError(f"{failed} of {len(found)} clips could not be reviewed.")


def _demo_story(where: str | None) -> None:
    from formcheck.demo.story import CLIENT, EXERCISE, WEEKS, install_story

    today = datetime.now().astimezone().date()
    with options.open_store(where) as store, progress_bar("Telling the story") as show:
        made = install_story(store, recordings_folder(), today=today, on_progress=show)
    if made:
        click.echo(f"{CLIENT}: {WEEKS} weeks of an invented client, {made} drawn sets; nobody was filmed.")
        click.echo(f'See them with: formcheck progress "{CLIENT}" --exercise {EXERCISE} --set 3')
    else:
        click.echo(f"{CLIENT}: already in the store.")


def _demo_clip(clip: Path, title: str, pose_model: Path | None, store: Store) -> str:
    from formcheck.video.clip_file import clip_sha256

    exercise_id = _true_exercise(clip)
    if store.list_reviews(clip_sha256=clip_sha256(clip), exercise_id=exercise_id, limit=1):
        return "already in the store."
    analysis, _ = ReviewRequest(clip=clip, exercise_id=exercise_id, pose_model=pose_model).review(title)
    number = store.save_review(analysis.review, created_at=datetime.now(UTC), clip_path=clip.absolute())
    return f"review {number}, {exercise_id}. {in_short(analysis.review)}"


def _true_exercise(clip: Path) -> str:
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
