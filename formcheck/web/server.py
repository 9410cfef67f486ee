"""Middleware before every route of the page's server, Streamlit's own ones too, and what runs as long as it does."""

import asyncio
import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from datetime import UTC, datetime

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send
from starlette.websockets import WebSocketClose
from streamlit import config
from streamlit.web.server.starlette.starlette_websocket import is_host_allowed

from formcheck.core.errors import FormcheckError
from formcheck.core.private_files import make_new_files_private, make_private_folder
from formcheck.services.delete import delete_marked
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home, default_store
from formcheck.storage.engine import database_file, store_url
from formcheck.storage.file_identity import watch_store
from formcheck.web.access import warn_at_start
from formcheck.web.arriving_films import FILMS, FilmMiddleware
from formcheck.web.uploads import WAITING, UploadMiddleware

OWN_NAMES = ("127.0.0.1", "localhost")
_SWEEP_S = 20.0


class HostCheckMiddleware:
    """Middleware: answers only a browser that calls the page by one of its own names.

    A foreign site can give its own name this machine's address (DNS rebinding) and would then be one with the page in
    the browser's eyes. Streamlit itself checks the name for WebSockets alone. The names are those of its option
    ``server.allowedHosts``; where that is empty, this machine's own.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] in ("http", "websocket") and not is_host_allowed(Headers(scope=scope).get("host")):
            refusal = WebSocketClose(1008) if scope["type"] == "websocket" else PlainTextResponse(_REFUSAL, 400)
            await refusal(scope, receive, send)
            return
        await self._app(scope, receive, send)


_REFUSAL = "This page does not answer to that name."
MIDDLEWARE = (Middleware(HostCheckMiddleware), Middleware(UploadMiddleware), Middleware(FilmMiddleware))


@asynccontextmanager
async def lifespan(_app: object) -> AsyncIterator[None]:
    """Make new files private, watch the store, warn at the start; while it runs, delete what uploads and films left."""
    make_new_files_private()
    if not config.get_option("server.allowedHosts"):
        config.set_option("server.allowedHosts", list(OWN_NAMES))
    with suppress(FormcheckError, OSError):  # the page says it
        if (store := database_file(store_url(default_store()))) is not None:
            watch_store(store)
        folder = DataFolder(data_home()).arriving_uploads
        make_private_folder(folder)
        # On the disk of the data folder: the system's own folder may lie in memory.
        tempfile.tempdir = str(folder)
    warn_at_start()
    sweeping = asyncio.create_task(_sweep())
    try:
        yield
    finally:
        sweeping.cancel()


async def _sweep() -> None:
    while True:
        await asyncio.sleep(_SWEEP_S)
        WAITING.drop_forgotten(abandoned=True)
        with suppress(FormcheckError, OSError):  # tried again; the list of sets says it
            await run_in_threadpool(_delete_marked)
        with suppress(FormcheckError, OSError):
            await run_in_threadpool(FILMS.drop_old)


def _delete_marked() -> None:
    """Delete what was asked to be deleted in a list, where the page that asked is gone."""
    with Store.open() as store:
        if store.writable:
            delete_marked(store, data_home(), now=datetime.now(UTC))
