"""Starts the page: ``python -m formcheck.web.launcher [OPTION OF STREAMLIT ...]``.

Before Streamlit's server runs, it is stopped from asking two outside hosts for this machine's address, and the modules
that visitors' first pages would load side by side are loaded once. `app.py` calls `prepare` too: the server loads it
before it listens, so that a page started by plain ``streamlit run app.py`` has both as well.
"""

import importlib
import logging
import os
import sys
import threading
from pathlib import Path

from formcheck.core.errors import UsageError
from formcheck.exercises import own_files
from formcheck.storage.data_folder import own_exercises_folder

_HERE = Path(__file__).resolve().parent
APP = next(path for path in (_HERE.parents[1] / "app.py", _HERE / "app.py") if path.is_file())
"""The page's entry: at the top of a checkout, beside this file in an installed package."""
LOADED_FIRST = (
    "pandas",
    "scipy.interpolate",
    "scipy.linalg",
    "scipy.ndimage",
    "scipy.optimize",
    "scipy.signal",
    "scipy.special",
    "scipy.stats",
    "plotly.graph_objects",
    "plotly.io",
    "alembic.command",
    "mako.ext.pygmentplugin",
    "PIL.ImageFile",
    "PIL.ImageOps",
    "PIL.BmpImagePlugin",
    "PIL.GifImagePlugin",
    "PIL.JpegImagePlugin",
    "PIL.PngImagePlugin",
    "PIL.PpmImagePlugin",
    "sqlalchemy.dialects.sqlite",
    "formcheck.storage",
    "formcheck.web.review.result",
    "formcheck.web.review.start",
    "formcheck.web.client.overview",
)
"""What the pages use, with all it imports in its turn. Each visitor's run is a thread of its own, and of two that load
a package whose modules import each other, such as pandas or scipy, one can meet it half loaded."""
_lock = threading.Lock()


def prepare() -> None:
    """Do what must be done once in the page's process; call it as often as you like."""
    with _lock:
        stop_address_lookups()
        logging.getLogger("streamlit.runtime.caching.cache_data_api").addFilter(_is_news)
        own_files.use_folder(own_exercises_folder)
        for name in LOADED_FIRST:
            importlib.import_module(name)


def _is_news(record: logging.LogRecord) -> bool:
    """Whether a line of Streamlit's log says something: that its caches begin before its server is so on purpose."""
    return "No runtime found" not in record.getMessage()


def stop_address_lookups() -> None:
    """Stop Streamlit from finding out the addresses others could reach this machine by.

    When a WebSocket arrives from a foreign page (a foreign ``Origin``), its check asks two outside hosts for the
    machine's address and halts the whole server until they answer. Without these addresses it refuses at once. Own
    names and addresses come from the options ``server.address``, ``browser.serverAddress`` and
    ``server.corsAllowedOrigins``.
    """
    from streamlit import net_util

    if not (hasattr(net_util, "get_external_ip") and hasattr(net_util, "get_internal_ip")):
        raise UsageError("This version of Streamlit looks its address up in an unknown way; install a tested version.")
    net_util.get_external_ip = net_util.get_internal_ip = lambda: None


def main(arguments: list[str]) -> None:
    """Serve the page until it is stopped; ends the process with Streamlit's exit code, with 0 after Ctrl-C."""
    # The settings that limit the page to this machine lie beside the entry; Streamlit takes those of the current
    # folder too, such as a log-in configured there.
    if APP.parent != _HERE:
        os.chdir(APP.parent)
    prepare()
    import click
    from streamlit.web.cli import main as streamlit

    try:
        streamlit(["run", str(APP), *arguments], prog_name="streamlit", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        return  # the server has ended by itself; the signal arrives once more after it


if __name__ == "__main__":
    main(sys.argv[1:])
