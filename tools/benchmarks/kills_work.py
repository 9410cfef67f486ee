"""What is killed by `kills.py`: each kind of work tells what is done once it is done, and goes on until its end."""

import itertools
import secrets
import shutil
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from formcheck.batch.growing_files import QUIET_S, WatchedFolder
from formcheck.batch.local import InProcessRunner, ProcessRunner, Runner
from formcheck.batch.requests import ClipRequest, Outcome
from formcheck.batch.run import BatchRequest, run
from formcheck.coaching.comment import CoachComment
from formcheck.coaching.plan import parse_plan
from formcheck.core.model import Review
from formcheck.exercises.limits import read_limits
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode
from formcheck.services.delete import UNDO_S, delete_marked
from formcheck.services.pipeline import review_clip
from formcheck.storage import Store, film_pieces
from formcheck.storage.backup import back_up, restore
from formcheck.storage.data_folder import DataFolder
from quick_model import QuickModel

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "tests" / "data"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
LATER = NOON + timedelta(seconds=2 * UNDO_S)
Tell = Callable[[object], None]
EXERCISE = "lateral-raise"
NEW_CLIPS = 4
FILM_PIECE = 700
"""Bytes; the clip then comes in some ten pieces."""
SPOKEN = (
    b"RIFF" + (36 + 1600).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little") + b"\x01\0\x01\0"
    + (8000).to_bytes(4, "little") + (16000).to_bytes(4, "little") + b"\x02\0\x10\0data"
    + (1600).to_bytes(4, "little") + bytes(1600)
)  # fmt: skip
"""A tenth of a second of silence as a WAV file of 8000 samples a second."""
FAILED = "failed"
"""Told of a clip of a batch that has no review though nothing is wrong with it."""


def reviewed(clip: Path, recordings: Path) -> Review:
    """A clip's review by the quick model."""
    exercise = get_exercise(EXERCISE)
    made = review_clip(clip, exercise, estimator_factory=QuickModel, cache_dir=recordings)
    return made[0].review


def reviews(folder: Path, tell: Tell) -> None:
    """Look at a clip in sandboxed processes, review it, keep the review; a new clip every third time."""
    clip = folder / "clip.mp4"
    whole = clip.read_bytes()
    for number in range(10**9):
        if number % 3 == 0:
            clip = folder / f"clip-{datetime.now(UTC).timestamp():.6f}.mp4"
            another_clip(whole, clip, number)
        review = reviewed(clip, folder / "recordings")
        with Store.open(folder / "store.sqlite") as store:
            tell(store.save_review(review, created_at=datetime.now(UTC), clip_path=clip))


def another_clip(whole: bytes, path: Path, number: int) -> None:
    """The same clip under another checksum, whole or not at all: bytes behind the last box change nothing else."""
    part = path.with_suffix(".part")
    part.write_bytes(whole + b"\0\0\0\x10free" + number.to_bytes(8, "big"))
    part.replace(path)


def batches(folder: Path, tell: Tell) -> None:
    """One batch after the other by two processes; one that was killed is done to its end by the next."""
    while True:
        if not missing(folder):
            whole = (folder / "clip.mp4").read_bytes()
            there = len(batch_clips(folder))
            (folder / "sets").mkdir(exist_ok=True)
            for number in range(there, there + NEW_CLIPS):
                another_clip(whole, folder / "sets" / f"set-{number:04d}.mp4", number)
        run_batch(folder, ProcessRunner(2), lambda one: None if one.state == "there" else tell(one.review_id or FAILED))


def batch_clips(folder: Path) -> list[Path]:
    """What is to be reviewed."""
    return sorted((folder / "sets").glob("*.mp4"))


def missing(folder: Path) -> int:
    """How many clips have no review, so far as is on disk; fewer than none when some have several."""
    with Store.open(folder / "store.sqlite") as store:
        return len(batch_clips(folder)) - len(store.list_reviews(limit=10**6))


def run_batch(folder: Path, runner: Runner, tell: Callable[[Outcome], None]) -> bool:
    """Review what is missing; whether all clips have their review."""
    orders = [ClipRequest(str(clip), EXERCISE) for clip in batch_clips(folder)]
    wanted = BatchRequest(orders, str(folder / "recordings"), estimator_factory=QuickModel)
    with Store.open(folder / "store.sqlite") as store:
        return run(wanted, store, runner, on_outcome=tell).all_good


def unfinished(folder: Path) -> list[str]:
    """What is wrong once the batch that was killed so often is run to its end."""
    good = run_batch(folder, InProcessRunner(), lambda _: None)
    left = missing(folder)
    return [] if good and left == 0 else [f"run to its end, the batch has {left} clips without or with second reviews"]


def limits(folder: Path, tell: Tell) -> None:
    """Change limits and plans."""
    with Store.open(folder / "store.sqlite") as store:
        if store.find_client("Ada") is None:
            store.add_client("Ada", created_at=NOON)
        for number in range(10**9):
            made = store.set_limits("squat", read_limits({"depth": {"limit": 80.0 + number % 9}}), created_at=NOON)
            tell(made.id)
            store.set_plan("Ada", "squat", parse_plan(f"4x{5 + number % 5}"), created_at=NOON)


def comments(folder: Path, tell: Tell) -> None:
    """Say something of a stored review, with a voice note and pen strokes, and take every fourth back."""
    with Store.open(folder / "store.sqlite") as store:
        (row, *_) = store.list_reviews(limit=1)
        for number in range(10**9):
            said = CoachComment(f"Comment {number}", 1.0, (((1.0, 2.0), (3.0, 4.0)),))
            made = store.add_comment(row.id, said, voice=SPOKEN, created_at=NOON)
            tell(made)
            if number % 4 == 3:
                taken = store.add_comment(row.id, CoachComment("Taken back"), created_at=NOON)
                store.delete_comment(taken)


def deletions(folder: Path, tell: Tell) -> None:
    """Have reviews deleted whose ten seconds to undo it are over, with what was drawn for them."""
    with Store.open(folder / "store.sqlite") as store:
        (row, *_) = store.list_reviews(limit=1)
        review = store.load_review(row.id)
        while True:
            number = store.save_review(review, created_at=NOON)
            drawn = DataFolder(folder).artifacts(number)
            drawn.folder.mkdir(parents=True)
            for path in (drawn.report, drawn.pictures_file, drawn.film):
                path.write_bytes(bytes(1000))
            store.mark_reviews([number], deletion_at=NOON)
            delete_marked(store, folder, now=LATER)
            tell(number)


def watched(folder: Path, tell: Tell) -> None:
    """Review each clip that arrives in a folder, as `formcheck watch` does, but without waiting."""
    arriving, whole = folder / "arriving", (folder / "clip.mp4").read_bytes()
    arriving.mkdir(exist_ok=True)
    seconds = itertools.count(step=2 * QUIET_S)
    look = WatchedFolder(arriving, now=lambda: float(next(seconds)))
    for number in itertools.count(len(list(arriving.iterdir()))):
        another_clip(whole, arriving / f"set-{number:04d}.mp4", number)
        look.take_arrived()  # seen, and perhaps still growing
        for clip in look.take_arrived():
            orders = [ClipRequest(str(clip), EXERCISE)]
            wanted = BatchRequest(orders, str(folder / "recordings"), estimator_factory=QuickModel)
            with Store.open(folder / "store.sqlite") as store:
                run(wanted, store, InProcessRunner(), on_outcome=lambda one: tell(one.review_id or FAILED))


def films(folder: Path, tell: Tell) -> None:
    """Take films in pieces and store every second one; tell a piece once it has arrived, a film once it is stored."""
    whole = (folder / "clip.mp4").read_bytes()
    for number in range(10**9):
        name = f"set-{secrets.token_hex(16)}"
        content = film_content(whole, name)
        for index, start in enumerate(range(0, len(content), FILM_PIECE)):
            part = folder / "piece.part"
            part.write_bytes(content[start : start + FILM_PIECE])
            film_pieces.keep_piece(folder, name, index, part)
            tell(f"{name}/{index}")
        if number % 2 and (film := film_pieces.find_film(folder, name)) is not None:
            film_pieces.join_film(folder, film)
            tell(f"{name}/stored")


def film_content(whole: bytes, name: str) -> bytes:
    """The clip with a name behind its last box, so that each film is another one."""
    return whole + b"\0\0\0\x2cfree" + name.encode()


def lost_films(folder: Path, acknowledged: list[str]) -> list[str]:
    """What is lost of films whose pieces were told, or damaged or left behind; everything is then cleared away."""
    whole, found = (folder / "clip.mp4").read_bytes(), []
    stored = {path.read_bytes() for path in DataFolder(folder).clips.glob("[0-9a-f]*")}
    told = Counter(word.partition("/")[0] for word in acknowledged)
    for name, pieces in told.items():
        content, film = film_content(whole, name), film_pieces.find_film(folder, name)
        arrived = b"" if film is None else b"".join(piece.read_bytes() for piece in film.pieces)
        there = content in stored
        stored.discard(content)
        if not content.startswith(arrived) or not (there or len(arrived) >= min(pieces * FILM_PIECE, len(content))):
            found.append(f"of film {name} {pieces} pieces were told and {len(arrived)} bytes are here")
    found += ["an upload is no film that was told" for _ in stored]
    film_pieces.drop_old_films(folder, time.time() + 2 * film_pieces.KEPT_S)
    films_left = DataFolder(folder).film_pieces
    found += [f"{path.name} is left behind" for path in (films_left.iterdir() if films_left.exists() else ())]
    shutil.rmtree(DataFolder(folder).clips, ignore_errors=True)
    return found


def imports(folder: Path, tell: Tell) -> None:
    """Put a backup in the place of the store, again and again."""
    for number in range(10**9):
        count, kept = restore(folder / "store.sqlite", folder / "backup.sqlite", restored_at=NOON)
        tell(f"{count}")
        if kept is not None and number % 2:
            kept.unlink(missing_ok=True)


def backups(folder: Path, tell: Tell) -> None:
    """Write the store to one and the same backup."""
    with Store.open(folder / "store.sqlite") as store:
        while True:
            tell(back_up(store, folder / "made.sqlite"))


def migrations(folder: Path, tell: Tell) -> None:
    """Bring a store of the first schema up to date."""
    with Store.open(folder / "store.sqlite") as store:
        tell(store.check())
    time.sleep(3600)  # done: wait for the end


def sample_store(path: Path, reviews_in_it: int) -> None:
    """A store with so many reviews."""
    review = decode((DATA / "review_v1.json").read_bytes())
    with Store.open(path) as store:
        for _ in range(reviews_in_it):
            store.save_review(review, created_at=NOON)


WORK = (reviews, batches, watched, limits, comments, films, deletions, imports, backups, migrations)
KINDS = {work.__name__: work for work in WORK}
