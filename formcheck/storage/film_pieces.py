"""Films that a browser sends in pieces while it takes them: each piece a file, until they are joined or discarded.

A piece is there whole or not at all, and pieces only ever follow each other, so whatever stops the browser or the page,
what has arrived is the beginning of the film. No name is the browser's own but for the film's, which is checked.
"""

import re
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from formcheck.core.atomic_write import PART_ENDING, STALE_AFTER_S, remove_stale_parts
from formcheck.core.errors import ClipError
from formcheck.core.private_files import make_private_folder
from formcheck.core.vocabulary.numbers import format_day
from formcheck.storage import media_files
from formcheck.storage.data_folder import DataFolder

NAME = re.compile(r"(set|test)-[0-9a-f]{32}")
"""A film of a set, or a test film of how the camera stands, which nobody asks for again."""
MOST_PIECES = 3000
KEPT_S = 7 * 24 * 3600.0
"""A film of a set of which nothing has come for so long is deleted."""
PIECE_S = 1.0
"""So much of a film is in each piece, or a little more."""
QUIET_S = 15.0
"""A film of which nothing has come for so long is not being taken any more."""
_READ = 1 << 20
_SET = "set-"
_EBML, _MP4_TYPE = b"\x1a\x45\xdf\xa3", b"ftyp"
"""How what browsers record begins (RFC 8794; ISO/IEC 14496-12, 4.3): the latter at the fifth byte."""


@dataclass(frozen=True, slots=True)
class FilmPieces:
    """What has arrived of a film."""

    name: str
    folder: Path
    pieces: tuple[Path, ...]
    """In their order, from the first one on."""
    size: int
    """Bytes."""
    began_at: float
    """When the first one came and ..."""
    last_at: float
    """... the last one; seconds since 1970."""

    def is_quiet(self, now: float) -> bool:
        """Nothing comes any more, as far as that can be told; a clock that was set counts as time gone by."""
        return abs(now - self.last_at) > QUIET_S

    @property
    def length_s(self) -> float:
        """About how long what has arrived lasts.

        Pieces that had to wait come all at once, and one that the browser made late holds more.
        """
        return max(len(self.pieces) * PIECE_S, self.last_at - self.began_at + PIECE_S)

    @property
    def shown_name(self) -> str:
        """What the clip is called for the user."""
        with self.pieces[0].open("rb") as first:
            ending = "webm" if first.read(4) == _EBML else "mp4"
        began = datetime.fromtimestamp(self.began_at)
        return f"filmed {began:%H.%M} on {format_day(began.date())}.{ending}"


def find_film(home: Path, name: str) -> FilmPieces | None:
    """What has arrived of a film; None where nothing has, or the name is none."""
    if not NAME.fullmatch(name):
        return None
    folder, pieces, states = DataFolder(home).film_pieces / name, [], []
    for number in range(MOST_PIECES):
        piece = folder / f"{number:04}"
        try:
            states.append(piece.stat())
        except OSError:
            break
        pieces.append(piece)
    if not pieces:
        return None
    size = sum(state.st_size for state in states)
    return FilmPieces(name, folder, tuple(pieces), size, states[0].st_mtime, states[-1].st_mtime)


def list_films(home: Path) -> list[FilmPieces]:
    """All films of which something has arrived, the newest first."""
    folders = DataFolder(home).film_pieces.glob("*-*")
    return sorted(filter(None, (find_film(home, folder.name) for folder in folders)), key=lambda film: -film.began_at)


def list_unfinished_sets(home: Path, now: float) -> list[FilmPieces]:
    """The films of sets whose end never came, the newest first."""
    return [film for film in list_films(home) if film.name.startswith(_SET) and film.is_quiet(now)]


def keep_piece(home: Path, name: str, number: int, part: Path) -> None:
    """Take a piece, which lies in a part file in the data folder; the same one once more changes nothing.

    Raises ClipError when it is not the next one or is no film's, OSError when it cannot be kept.
    """
    film = find_film(home, name)
    there = 0 if film is None else len(film.pieces)
    if film is not None and number < there:
        if film.pieces[number].read_bytes() != part.read_bytes():
            raise ClipError(f"Piece {number + 1} of this film came twice with another content; the first one is kept.")
        return
    if number > there or number >= MOST_PIECES:
        raise ClipError(f"Piece {number + 1} of this film cannot follow piece {there}, the last one that is here.")
    if number == 0:
        with part.open("rb") as content:
            head = content.read(8)
        if not head or not (head.startswith(_EBML[: len(head)]) or _MP4_TYPE.startswith(head[4:8])):
            raise ClipError("What came is not the beginning of a film.")
    folder = DataFolder(home).film_pieces / name
    make_private_folder(folder)
    part.replace(folder / f"{number:04}")


def join_film(home: Path, film: FilmPieces) -> Path:
    """Store the film among the uploads, and let its pieces go once it is there.

    Raises ClipError when it is no clip that can be reviewed, OSError when it cannot be written: the pieces then stay.
    """
    path = media_files.store_upload(home, _JoinedPieces(film.pieces))
    media_files.check_clip(path, film.shown_name)
    discard_film(film)
    return path


class _JoinedPieces:
    """The pieces of a film read as one file."""

    def __init__(self, pieces: tuple[Path, ...]) -> None:
        self._blocks = self._read_blocks(pieces)

    def read(self, _most: int) -> bytes:
        """Some more of it; nothing at its end."""
        return next(self._blocks, b"")

    @staticmethod
    def _read_blocks(pieces: tuple[Path, ...]) -> Iterator[bytes]:
        for piece in pieces:
            with piece.open("rb") as file:
                while block := file.read(_READ):
                    yield block


def discard_film(film: FilmPieces) -> None:
    """Delete a film's pieces, all or none as far as anybody sees (OSError)."""
    going = film.folder.with_name(f".{film.name}{PART_ENDING}")
    shutil.rmtree(going, ignore_errors=True)  # of a deletion that was stopped half-way
    film.folder.rename(going)
    shutil.rmtree(going)


def drop_old_films(home: Path, now: float) -> None:
    """Delete the films nobody asked for in time, and what was stopped half-way while it was deleted; never fails."""
    folder = DataFolder(home).film_pieces
    remove_stale_parts(folder)
    for film in list_films(home):
        kept_s = KEPT_S if film.name.startswith(_SET) else STALE_AFTER_S
        if now - film.last_at > kept_s:
            with suppress(OSError):
                discard_film(film)
    for path in folder.glob("*"):
        with suppress(OSError):
            empty = find_film(home, path.name) is None and now - path.stat().st_mtime > STALE_AFTER_S
            if path.is_dir() and (empty or path.name.endswith(PART_ENDING)):
                shutil.rmtree(path)
