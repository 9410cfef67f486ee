"""Where formcheck keeps what it keeps: the data folder of this user."""

import os
from pathlib import Path

from platformdirs import user_data_dir

from formcheck.errors import StoreError


def data_home() -> Path:
    """The data folder: ``FORMCHECK_HOME`` when set, else the platform's folder for user data; made if absent.

    Raises StoreError when it cannot be made.
    """
    given = os.environ.get("FORMCHECK_HOME", "").strip()
    home = Path(given).expanduser().absolute() if given else Path(user_data_dir("formcheck", appauthor=False))
    try:
        home.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"The data folder {home} cannot be made: {error.strerror}.") from error
    return home


def default_store() -> str:
    """Where the store is: the URL in ``FORMCHECK_STORE`` when set, else a file in the data folder."""
    return os.environ.get("FORMCHECK_STORE", "").strip() or str(data_home() / "reviews.sqlite")


def recordings_folder() -> Path:
    """Where landmark recordings are kept, so that a clip is looked at only once."""
    return data_home() / "recordings"
