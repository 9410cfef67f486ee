"""The data folder of this user: where it is, and every path in it."""

import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_dir

from formcheck.core.errors import StoreError
from formcheck.core.private_files import make_private_folder, make_tree_private


class ChildPath:
    """Attribute of a folder: the path of a fixed name in it."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __get__(self, owner: "Artifacts | DataFolder", _type: object = None) -> Path:
        return owner.folder / self._name


SLOWLY = "slowly"
"""In `Artifacts.plays_mark`: a browser plays the clip, but takes long to load it or to go to a moment of it."""


@dataclass(frozen=True, slots=True)
class Artifacts:
    """What is drawn for a stored review; files may be missing until drawn."""

    folder: Path

    overlay = ChildPath("overlay.mp4")
    """The clip with the skeleton drawn in; made when it is asked for."""
    covered = ChildPath("overlay-covered.mp4")
    """The same with the lifter's head made unrecognisable."""
    film = ChildPath("clip.mp4")
    """The clip in a form every browser plays, where the clip itself is not."""
    plays_mark = ChildPath("plays-as-it-is")
    """There when a browser plays the clip as it is; says `SLOWLY` where it does so until the film is made."""
    report = ChildPath("report.html")
    """The report as one HTML file."""
    pictures_file = ChildPath("pictures.json")
    """Stills of the reps."""
    thumbnail = ChildPath("thumbnail.jpg")
    """A small picture of the lifter for lists."""
    recording = ChildPath("landmarks.npz")
    """The landmarks the review was made from."""
    faces = ChildPath("faces.json")
    """The faces found in the clip, to be covered."""
    clips_file = ChildPath("clips.txt")
    """Names of the clips it is drawn from, which are then known to be needed when the page works on another store."""

    @property
    def complete(self) -> bool:
        """All files are there."""
        return all(path.is_file() for path in (self.report, self.pictures_file, self.recording))

    @property
    def plays_slowly(self) -> bool:
        """A browser plays the clip meanwhile, but a film is yet to be made."""
        try:
            return not self.film.is_file() and self.plays_mark.read_text(encoding="utf-8") == SLOWLY
        except OSError:
            return False

    @property
    def film_wanted(self) -> bool:
        """A film for browsers is yet to be made."""
        return not self.film.is_file() and (self.plays_slowly or not self.plays_mark.is_file())

    def playable(self, clip_path: str | None) -> Path | None:
        """The file to play; None when it is yet to be made or the clip is gone."""
        if self.film.is_file():
            return self.film
        if self.plays_mark.is_file() and clip_path is not None and Path(clip_path).is_file():
            return Path(clip_path)
        return self.overlay if self.overlay.is_file() else None

    def write_clip_names(self, clips: Iterable[str]) -> None:
        """Write `clips_file` for clips given by their paths (OSError)."""
        self.clips_file.write_text("".join(f"{Path(clip).name}\n" for clip in clips), encoding="utf-8")

    def top_pictures(self) -> Mapping[int, str]:
        """Rep number → still at its top as a data address; empty when there are none."""
        try:
            loaded = json.loads(self.pictures_file.read_text(encoding="utf-8"))
            return {int(number): str(uri) for number, uri in loaded.items()}
        except (OSError, ValueError, AttributeError):
            return {}


@dataclass(frozen=True, slots=True)
class DataFolder:
    """The paths in a data folder; nothing is made, and none need be there."""

    folder: Path

    store = ChildPath("reviews.sqlite")
    """The store, unless it is elsewhere (`default_store`)."""
    recordings = ChildPath("recordings")
    """Landmark recordings, so that a clip is tracked only once, and the curves read from them."""
    clips = ChildPath("clips")
    """Uploads, each under its checksum."""
    arriving_uploads = ChildPath("arriving")
    """Temporary files of uploads on their way, which have no names."""
    film_pieces = ChildPath("films")
    """Films that are taken on the page, a folder of pieces each, until they are whole."""
    jobs = ChildPath("jobs")
    """The folders of the page's jobs."""
    queue_id = ChildPath("queue-id")
    """What this folder's jobs are known by among those of others in one store."""
    drawn = ChildPath("drawn")
    """What is drawn for reviews, a folder each."""
    cautions_read = ChildPath("cautions-read")
    """There once the cautions were read."""
    demo_lock = ChildPath("demo.lock")
    """Locked by the process that puts the demo in."""
    demo_progress = ChildPath("demo-arriving.json")
    """How far that process is."""
    page_password = ChildPath("page-password")
    """The page password of earlier versions."""

    def upload(self, sha256: str) -> Path:
        """The upload with this checksum."""
        return self.clips / sha256

    def upload_picture(self, sha256: str) -> Path:
        """A small picture from it, which goes with it."""
        return self.clips / f"{sha256}.jpg"

    def job(self, name: str) -> Path:
        """A job's log, and what it has drawn so far; how it stands is in the store."""
        return self.jobs / name

    def excerpt(self, name: str) -> Path:
        """What a job has cut out of a clip, in a folder of its own."""
        return self.job(name) / "excerpt" / "clip.mp4"

    def artifacts(self, review_id: int) -> Artifacts:
        """What is drawn for a review."""
        return Artifacts(self.drawn / str(int(review_id)))

    def client_export(self, client_id: int) -> Path:
        """The export of a client, until it is saved elsewhere."""
        return self.folder / "exports" / f"client-{int(client_id)}.zip"

    @property
    def chosen_export(self) -> Path:
        """The export of reviews chosen from a list, until it is saved elsewhere."""
        return self.folder / "exports" / "chosen.zip"


def data_home() -> Path:
    """The data folder: ``FORMCHECK_HOME`` when set, else the platform's folder for user data; made if absent.

    It is for this user alone: one that others could read is closed to them, with everything in it.

    Raises StoreError when it cannot be made.
    """
    home = _home()
    try:
        if not home.is_dir():
            make_private_folder(home)
    except OSError as error:
        raise StoreError(f"The data folder {home} cannot be made: {error.strerror}.") from error
    make_tree_private(home)
    return home


def own_exercises_folder() -> Path:
    """Where exercise files of the user's own are looked for; neither made nor looked into here."""
    return _home() / "exercises"


def _home() -> Path:
    given = os.environ.get("FORMCHECK_HOME", "").strip()
    return Path(given).expanduser().absolute() if given else Path(user_data_dir("formcheck", appauthor=False))


def default_store() -> str:
    """Where the store is: the URL in ``FORMCHECK_STORE`` when set, else a file in the data folder."""
    return os.environ.get("FORMCHECK_STORE", "").strip() or str(DataFolder(data_home()).store)


def recordings_folder() -> Path:
    """The folder of landmark recordings, in the data folder of this user (StoreError)."""
    return DataFolder(data_home()).recordings


def stored_password_sentence() -> str | None:
    """What to say of a page password set with an earlier formcheck; None when there is none."""
    file = DataFolder(data_home()).page_password
    if not file.exists():
        return None
    return (
        f"A page password was set with an earlier formcheck, and this one asks for none: delete {file} once the page "
        "is for this machine alone, or stands behind a proxy or log-in that asks (docs/safety.md)."
    )
