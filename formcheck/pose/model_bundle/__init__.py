"""The pose model that ships with formcheck: where it is and whether it is whole.

How it was made: ``PROVENANCE.md`` and ``rebuild.py`` beside this file.
"""

import hashlib
import stat
from functools import lru_cache
from pathlib import Path

from formcheck.core.errors import PoseModelError

BUNDLE_PATH = Path(__file__).with_name("pose_landmarker_full.task")
CHECKSUM_PATH = Path(__file__).with_name("pose_landmarker_full.task.sha256")
BUNDLE_NAME = "pose_landmarker_full"


def read_expected_sha256() -> str:
    """The checksum the packaged bundle must have; raises PoseModelError when the checksum file is missing."""
    try:
        return CHECKSUM_PATH.read_text(encoding="ascii").split()[0]
    except (OSError, UnicodeDecodeError, IndexError):
        raise PoseModelError("The checksum of the packaged pose model is missing; install formcheck again.") from None


def compute_model_sha256(path: Path) -> str:
    """SHA-256 of a pose model file, hex; raises PoseModelError when it is missing or cannot be read."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):  # a pipe would be waited for, a device may never end
            raise PoseModelError(f"The pose model {path} is not a file.")
        return _compute_cached_sha256(str(path), status.st_mtime_ns, status.st_size)
    except FileNotFoundError:
        raise PoseModelError(f"The pose model {path} does not exist.") from None
    except OSError as error:
        raise PoseModelError(f"The pose model {path} cannot be read: {error.strerror}.") from None


@lru_cache(maxsize=8)
def _compute_cached_sha256(path: str, mtime_ns: int, size: int) -> str:
    with Path(path).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def find_packaged_bundle() -> tuple[Path, str]:
    """Path and SHA-256 of the packaged pose model, checked against the checksum that ships with it.

    Raises PoseModelError when the file is missing or its bytes are not the expected ones.
    """
    if not BUNDLE_PATH.exists():
        raise PoseModelError(f"The packaged pose model {BUNDLE_PATH.name} is missing; install formcheck again.")
    sha256 = compute_model_sha256(BUNDLE_PATH)
    if sha256 != read_expected_sha256():
        raise PoseModelError(f"The packaged pose model {BUNDLE_PATH.name} is damaged; install formcheck again.")
    return BUNDLE_PATH, sha256
