"""Uploads of visitors: held on disk until the page takes them, with limits for each visitor and for all.

Streamlit keeps every upload in memory until its visitor is gone. Here the content is taken out of the request on its
way in and put into an unnamed file, which vanishes with the process; Streamlit gets an empty file of the same name, so
that all it checks (session, origin, size) stays checked.
"""

import re
import shutil
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, UploadFile
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit.runtime import exists, get_instance
from streamlit.runtime.scriptrunner import get_script_run_ctx
from streamlit.runtime.uploaded_file_manager import UploadedFile

from formcheck.storage import media_files
from formcheck.storage.data_folder import data_home

MEGABYTE = 1 << 20
PER_VISITOR = 4000 * MEGABYTE
"""Bytes one visitor may have waiting: some forty clips of a set, or four of the largest allowed."""
IN_ALL = 8000 * MEGABYTE
MOST_FILES = 200
"""Files all visitors together may have waiting: each is an open one."""
MINIMUM_FREE = 2000 * MEGABYTE
"""Bytes that uploads leave free on the disk."""
_FRAMING = MEGABYTE
"""Bytes by which a request may be longer than the file in it."""
_PATH = re.compile(r"/_stcore/upload_file/([^/]+)/([^/]+)/?$")

Key = tuple[str, str]
"""Session and file, as Streamlit numbers them."""


@dataclass
class PendingUploads:
    """The uploads on disk that the page has not taken yet, and what is on its way. May be used from any thread.

    Parameters
    ----------
    per_visitor, in_all : bytes that may wait.
    free : bytes free where uploads are written.
    """

    per_visitor: int = PER_VISITOR
    in_all: int = IN_ALL
    free: Callable[[], int] = field(default=lambda: shutil.disk_usage(tempfile.gettempdir()).free)
    _waiting: dict[Key, tuple[BinaryIO, int]] = field(default_factory=dict)
    _coming: dict[Key, int] = field(default_factory=dict)
    _admitted: set[str] = field(default_factory=set)
    _gone: set[str] = field(default_factory=set)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def admit(self, session: str) -> None:
        """Take uploads of this visitor, whom the page has let in."""
        with self._lock:
            self._admitted.add(session)

    def reserve(self, key: Key, size: int) -> None:
        """Set room aside for an upload of this many bytes, or raise HTTPException with a sentence."""
        self.drop_forgotten()
        with self._lock:
            if key[0] not in self._admitted:
                raise HTTPException(403, "Nothing is taken from a visitor who has not been let in.")
            if self.count_bytes(key[0]) + size > self.per_visitor:
                raise HTTPException(413, "Too many clips are waiting already: send fewer at once.")
            if self.count_bytes() + size > self.in_all or len(self._waiting) + len(self._coming) >= MOST_FILES:
                raise HTTPException(503, "Too many clips are on their way: try again in a minute.")
            if self.free() - sum(self._coming.values()) - size < MINIMUM_FREE:
                raise HTTPException(507, "The disk is nearly full: delete some reviews or clips first.")
            self._coming[key] = size

    def release(self, key: Key) -> None:
        """Give back what was set aside."""
        with self._lock:
            self._coming.pop(key, None)

    def store_content(self, key: Key, content: BinaryIO, size: int) -> None:
        """Hold the content of an upload until the page takes it."""
        with self._lock:
            self.delete(key)
            self._waiting[key] = (content, size)

    def open_content(self, key: Key) -> BinaryIO | None:
        """The content of an upload, from its beginning; None when it is not held here."""
        with self._lock:
            content, _ = self._waiting.get(key, (None, 0))
        if content is not None:
            content.seek(0)
        return content

    def delete(self, key: Key) -> None:
        """Delete the content of an upload."""
        with self._lock:
            content, _ = self._waiting.pop(key, (None, 0))
        if content is not None:
            content.close()

    def drop_forgotten(self, *, abandoned: bool = False) -> None:
        """Delete what Streamlit does not know any more.

        Parameters
        ----------
        abandoned : also what visitors left who were gone the last time this was asked for, too.
        """
        if not exists():
            return
        runtime = get_instance()
        with self._lock:
            for key in list(self._waiting):
                if not runtime.uploaded_file_mgr.get_files(key[0], [key[1]]):
                    self.delete(key)
            self._admitted = {session for session in self._admitted if runtime.is_active_session(session)}
            if abandoned:
                gone = {session for session, _ in self._waiting if not runtime.is_active_session(session)}
                for key in [key for key in self._waiting if key[0] in gone & self._gone]:
                    self.delete(key)
                self._gone = gone

    def count_bytes(self, session: str | None = None) -> int:
        """Bytes that wait or are on their way, of one visitor or of all."""
        with self._lock:
            sizes = {key: size for key, (_, size) in self._waiting.items()}
            parts = [*sizes.items(), *self._coming.items()]
        return sum(size for key, size in parts if session in (None, key[0]))


WAITING = PendingUploads()
"""The page's own: the server's process has one page."""


def _find_key(item: UploadedFile) -> Key:
    context = get_script_run_ctx()
    return ("" if context is None else context.session_id, item.file_id)


def save_clip(item: UploadedFile) -> Path:
    """Store an upload under its checksum in the data folder, and let go of what was waiting.

    Raises ClipError when it is too large or is no clip that can be reviewed, OSError when it cannot be written.
    """
    key = _find_key(item)
    content = WAITING.open_content(key)
    try:
        path = media_files.store_upload(data_home(), item if content is None else content)
    finally:
        WAITING.delete(key)
    media_files.check_clip(path, item.name)
    return path


def read_upload(item: UploadedFile, most: int) -> bytes:
    """The content of a small upload, such as a voice note: at most so many bytes of it."""
    content = WAITING.open_content(_find_key(item))
    return (item if content is None else content).read(most)


class UploadMiddleware:
    """Middleware: takes the content out of each upload and holds it on disk."""

    def __init__(self, app: ASGIApp, uploads: PendingUploads = WAITING) -> None:
        self._app = app
        self._uploads = uploads

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        found = _PATH.search(scope.get("path", "")) if scope["type"] == "http" else None
        if found is None or scope["method"] != "PUT":
            await self._app(scope, receive, send)
            return
        key = (found[1], found[2])
        most = media_files.UPLOAD_LIMIT_MB * MEGABYTE + _FRAMING
        length = Headers(scope=scope).get("content-length", "")
        size = min(int(length), most) if length.isdigit() else most
        try:
            self._uploads.reserve(key, size)
        except HTTPException as error:
            await PlainTextResponse(error.detail, error.status_code)(scope, receive, send)
            return
        body = _Body(scope, receive, size)

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start" and 200 <= message["status"] < 300 and body.upload is not None:
                self._uploads.store_content(key, body.upload.file, body.upload.size or 0)
                body.upload = None
            await send(message)

        try:
            await self._app(scope, body.without_content, answer)
        finally:
            self._uploads.release(key)
            if body.upload is not None:
                body.upload.file.close()


@dataclass
class _Body:
    """The body of an upload, read when it is first asked for: the content to disk, the rest to whoever asked."""

    scope: Scope
    receive: Receive
    room: int
    """Bytes that may still come."""
    was_read: bool = False
    upload: UploadFile | None = None
    """The file in it, until somebody takes it."""

    async def without_content(self) -> Message:
        """The whole body at once, as if the file in it were empty."""
        if self.was_read:
            return await self.receive()
        self.was_read = True
        try:
            form = await Request(self.scope, self._receive_bounded).form(max_files=1, max_fields=0)
            self.upload = next(item for item in form.values() if isinstance(item, UploadFile))
            # Out of memory, whatever its size: many small ones would fill it too.
            await run_in_threadpool(self.upload.file.rollover)
        except (MultiPartException, StopIteration):
            raise HTTPException(400, "One file at a time, please.") from None
        except OSError as error:
            raise HTTPException(507, f"The upload cannot be written: {error.strerror or error}.") from None
        boundary = Headers(scope=self.scope)["content-type"].partition("boundary=")[2].strip('"').encode("latin-1")
        lines = [b"--" + boundary, *(name + b": " + value for name, value in self.upload.headers.raw), b"", b""]
        body = b"\r\n".join([*lines, b"--" + boundary + b"--", b""])
        return {"type": "http.request", "body": body, "more_body": False}

    async def _receive_bounded(self) -> Message:
        message = await self.receive()
        self.room -= len(message.get("body", b""))
        if self.room < 0:
            raise HTTPException(413, "The upload is larger than it may be.")
        return message
