"""Films that visitors take on the page: their pieces are taken in by a route of its own, beside uploads.

Whoever sends a piece must be a visitor the page has let in, from the page itself, with its token, within the limits of
uploads; only the visitor who began a film goes on with it. What is refused is told in one sentence, and what has
arrived stays.
"""

import re
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send
from streamlit.web.server.server_util import is_url_from_allowed_origins, is_xsrf_enabled
from streamlit.web.server.starlette.starlette_app_utils import validate_xsrf_token
from streamlit.web.server.starlette.starlette_server_config import XSRF_COOKIE_NAME

from formcheck.core.atomic_write import make_part_file
from formcheck.core.errors import ClipError, FormcheckError
from formcheck.core.private_files import make_private_folder
from formcheck.storage import film_pieces, media_files
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.storage.film_pieces import FilmPieces
from formcheck.web.uploads import IN_ALL, MEGABYTE, WAITING, PendingUploads

ROUTE = "_formcheck/film"
MOST_PIECE = 32 * MEGABYTE
"""Bytes of one piece, which is a second or two of film."""
MOST_S = 15 * 60.0
"""So long after its first piece a film may go on: no longer clip is reviewed."""
MOST_FILMS = 50
_PATH = re.compile(rf"/{ROUTE}/([^/]+)/({film_pieces.NAME.pattern})/([0-9]{{1,4}})$")


@dataclass
class ArrivingFilms:
    """Who takes which film. May be used from any thread."""

    uploads: PendingUploads = field(default_factory=lambda: WAITING)
    home: Callable[[], Path] = data_home
    clock: Callable[[], float] = time.time
    _owners: dict[str, str] = field(default_factory=dict)
    """Film → the session that began it."""
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def check_piece(self, session: str, name: str, number: int) -> None:
        """Whether this visitor may send this piece now, before it is read; raises HTTPException with a sentence."""
        with self._lock:
            film, owner = film_pieces.find_film(self.home(), name), self._owners.get(name)
            if owner is not None and owner != session:
                raise HTTPException(403, "This film is being taken by another visitor.")
            if owner is None and (film is not None or number > 0):
                raise HTTPException(410, "This film is not being taken any more.")
            if film is None:
                films = film_pieces.list_films(self.home())
                if len(films) >= MOST_FILMS or sum(item.size for item in films) > IN_ALL:
                    raise HTTPException(503, "Too many unfinished films lie here: review or discard some first.")
            elif self.clock() - film.began_at > MOST_S:
                raise HTTPException(413, f"A film may last {MOST_S / 60:.0f} minutes; what has arrived is kept.")

    def keep_piece(self, session: str, name: str, number: int, part: Path) -> None:
        """Keep a piece that was read; raises ClipError or HTTPException with a sentence, OSError."""
        with self._lock:
            film = film_pieces.find_film(self.home(), name)
            most = media_files.UPLOAD_LIMIT_MB * MEGABYTE
            if film is not None and film.size + part.stat().st_size > most:
                raise HTTPException(413, f"A film may have {media_files.UPLOAD_LIMIT_MB} MB; what has arrived is kept.")
            film_pieces.keep_piece(self.home(), name, number, part)
            self._owners.setdefault(name, session)

    def finish(self, session: str, name: str, pieces: int) -> tuple[Path, str]:
        """Store a film whose end has come among the uploads: its path and name.

        Raises ClipError where it is not this visitor's, not all there or no clip, OSError; what is there then stays.
        """
        with self._lock:
            film = film_pieces.find_film(self.home(), name)
            if film is None or self._owners.get(name) != session:
                raise ClipError("This film is not here, or another visitor's.")
            if len(film.pieces) != pieces:
                raise ClipError(f"Of {pieces} pieces of this film {len(film.pieces)} have arrived, and they are kept.")
            return self.join(film)

    def join(self, film: FilmPieces) -> tuple[Path, str]:
        """Store what has arrived of a film among the uploads, as `finish`."""
        with self._lock:
            name = film.shown_name
            path = film_pieces.join_film(self.home(), film)
            self._owners.pop(film.name, None)
        return path, name

    def discard(self, film: FilmPieces) -> None:
        """Delete what has arrived of a film (OSError)."""
        with self._lock:
            film_pieces.discard_film(film)
            self._owners.pop(film.name, None)

    def drop_old(self) -> None:
        """Delete what nobody has asked for in time."""
        with self._lock:
            film_pieces.drop_old_films(self.home(), self.clock())
            there = {film.name for film in film_pieces.list_films(self.home())}
            self._owners = {name: session for name, session in self._owners.items() if name in there}


FILMS = ArrivingFilms()
"""The page's own: the server's process has one page."""


class FilmMiddleware:
    """Middleware: takes in the pieces of films."""

    def __init__(self, app: ASGIApp, films: ArrivingFilms = FILMS) -> None:
        self._app = app
        self._films = films

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        found = _PATH.search(scope.get("path", "")) if scope["type"] == "http" else None
        if found is None or scope["method"] != "PUT":
            await self._app(scope, receive, send)
            return
        session, name, number = found[1], found[2], int(found[4])
        response: Response = Response(status_code=204)
        try:
            await self._take(Request(scope, receive), session, name, number)
        except HTTPException as error:
            response = PlainTextResponse(error.detail, error.status_code)
        except FormcheckError as error:
            response = PlainTextResponse(str(error), 409)
        except OSError as error:
            response = PlainTextResponse(f"The film cannot be written: {error.strerror or error}.", 507)
        except ClientDisconnect:
            return
        await response(scope, receive, send)

    async def _take(self, request: Request, session: str, name: str, number: int) -> None:
        check_sender(request)
        length = request.headers.get("content-length", "")
        size = int(length) if length.isdigit() else MOST_PIECE
        if size > MOST_PIECE:
            raise HTTPException(413, "The piece is larger than it may be.")
        key, uploads = (session, f"{name}/{number}"), self._films.uploads
        uploads.reserve(key, size)
        try:
            await run_in_threadpool(self._films.check_piece, session, name, number)
            folder = DataFolder(self._films.home()).film_pieces
            make_private_folder(folder)
            with make_part_file(folder / "piece") as part:
                await _read_body(request, part, size)
                await run_in_threadpool(self._films.keep_piece, session, name, number, part)
        finally:
            uploads.release(key)


async def _read_body(request: Request, part: Path, room: int) -> None:
    with part.open("wb") as file:
        async for block in request.stream():
            room -= len(block)
            if room < 0:
                raise HTTPException(413, "The piece is larger than it may be.")
            await run_in_threadpool(file.write, block)


def check_sender(request: Request) -> None:
    """Whether a request comes from the page itself and holds its token; raises HTTPException with a sentence."""
    origin = request.headers.get("origin")
    foreign = origin is not None and urlsplit(origin).netloc != request.headers.get("host")
    token, cookie = request.headers.get("x-xsrftoken"), request.cookies.get(XSRF_COOKIE_NAME)
    if (foreign and not is_url_from_allowed_origins(origin or "")) or (
        is_xsrf_enabled() and not validate_xsrf_token(token, cookie)
    ):
        raise HTTPException(403, "Nothing is taken from another page.")
