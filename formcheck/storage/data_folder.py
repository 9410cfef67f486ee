"""Where formcheck keeps what it keeps: the data folder of this user."""

import os
from pathlib import Path

from platformdirs import user_data_dir

from formcheck.core.errors import StoreError
from formcheck.core.private_files import make_private_folder, make_tree_private


def data_home() -> Path:
    """The data folder: ``FORMCHECK_HOME`` when set, else the platform's folder for user data; made if absent.

    It is for this user alone: one that others could read is closed to them, with everything in it.

    Raises StoreError when it cannot be made.
    """
    given = os.environ.get("FORMCHECK_HOME", "").strip()
    home = Path(given).expanduser().absolute() if given else Path(user_data_dir("formcheck", appauthor=False))
    try:
        if not home.is_dir():
            make_private_folder(home)
    except OSError as error:
        raise StoreError(f"The data folder {home} cannot be made: {error.strerror}.") from error
    make_tree_private(home)
    return home


def default_store() -> str:
    """Where the store is: the URL in ``FORMCHECK_STORE`` when set, else a file in the data folder."""
    return os.environ.get("FORMCHECK_STORE", "").strip() or str(data_home() / "reviews.sqlite")


def recordings_folder() -> Path:
    """Where landmark recordings are kept, so that a clip is looked at only once."""
    return data_home() / "recordings"


def stored_password_sentence() -> str | None:
    """What to say of a page password set with an earlier formcheck; None when there is none."""
    file = data_home() / "page-password"
    if not file.exists():
        return None
    return (
        f"A page password was set with an earlier formcheck, and this one asks for none: delete {file} once the page "
        "is for this machine alone, or stands behind a proxy or log-in that asks (docs/safety.md)."
    )
