"""The data folder of this user: where it is, and every path in it."""

import os
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_dir

from formcheck.core.errors import StoreError
from formcheck.core.private_files import make_private_folder, make_tree_private


@dataclass(frozen=True, slots=True)
class DataFolder:
    """The paths in a data folder; nothing is made, and none need be there."""

    home: Path

    @property
    def store(self) -> Path:
        """The store, unless it is kept elsewhere (`default_store`)."""
        return self.home / "reviews.sqlite"

    @property
    def recordings(self) -> Path:
        """Landmark recordings, so that a clip is tracked only once, and the curves read from them."""
        return self.home / "recordings"

    @property
    def clips(self) -> Path:
        """Uploads, each under its checksum."""
        return self.home / "clips"

    def upload(self, sha256: str) -> Path:
        """The upload with this checksum."""
        return self.clips / sha256

    @property
    def arriving_uploads(self) -> Path:
        """Temporary files of uploads on their way, which have no names."""
        return self.home / "arriving"

    @property
    def jobs(self) -> Path:
        """The folders of the page's jobs."""
        return self.home / "jobs"

    def job(self, name: str) -> Path:
        """A job's log, and what it has drawn so far; how it stands is in the store."""
        return self.jobs / name

    @property
    def queue_id(self) -> Path:
        """What this folder's jobs are known by among those of others in one store."""
        return self.home / "queue-id"

    def artifacts(self, review_id: int) -> Path:
        """The folder of what is drawn for a review (`formcheck.storage.media_files.Artefacts`)."""
        return self.home / "drawn" / str(int(review_id))

    def client_export(self, client_id: int) -> Path:
        """The export of a client, until it is saved elsewhere."""
        return self.home / "exports" / f"client-{int(client_id)}.zip"

    @property
    def cautions_read(self) -> Path:
        """There once the cautions were read."""
        return self.home / "cautions-read"

    @property
    def demo_lock(self) -> Path:
        """Locked by the process that puts the demo in."""
        return self.home / "demo.lock"

    @property
    def demo_progress(self) -> Path:
        """How far that process is."""
        return self.home / "demo-arriving.json"

    @property
    def page_password(self) -> Path:
        """The page password of earlier versions."""
        return self.home / "page-password"


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
