"""What must hold before a page is shown: that its visitor may see it, and that the store is the one it was.

The page is for this machine's own users, those a proxy let in, and those Streamlit's log-in let in.

formcheck has no password of its own. The page counts as exposed when it listens beyond this machine, answers to another
name than this machine's own, or is called through a proxy. Exposed, it shows nothing unless log-in is configured or the
environment says that a proxy which asks for a password stands before it (docs/safety.md).
"""

import ipaddress
import logging
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx
from streamlit.runtime.secrets import secrets_singleton

from formcheck.core.errors import FormcheckError
from formcheck.storage.data_folder import stored_password_sentence
from formcheck.storage.file_identity import accept_store, missing_store
from formcheck.web import layout
from formcheck.web.uploads import WAITING

BEHIND_PROXY = "FORMCHECK_BEHIND_PROXY"
"""Set to ``1``: a proxy that authenticates stands before the page."""
_OWN_NAMES = ("localhost", "localhost.localdomain")
_PROXY_HEADERS = ("X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP", "Forwarded", "Via")
_log = logging.getLogger(__name__)


def is_own(name: str) -> bool:
    """Whether an address or host name, with or without a port, means this machine alone."""
    name = name.strip().lower()
    if name.startswith("["):
        name = name[1:].partition("]")[0]
    elif name.count(":") == 1:
        name = name.partition(":")[0]
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return name in _OWN_NAMES


def is_exposed(address: str | None, names: Sequence[str], headers: Mapping[str, str]) -> bool:
    """Whether somebody else than this machine's own users can reach the page.

    Parameters
    ----------
    address : what the server listens on; None: everything.
    names : the host names it answers to; empty: all.
    headers : of the request, where known: the name it was called by, and the traces of a proxy.
    """
    host = headers.get("Host")
    own = address and is_own(address) and names and all(map(is_own, names)) and (host is None or is_own(host))
    return not own or any(name in headers for name in _PROXY_HEADERS)


def is_login_configured() -> bool:
    """Whether Streamlit's secrets name somebody to ask who a visitor is (OpenID Connect)."""
    return secrets_singleton.load_if_toml_exists() and "auth" in secrets_singleton


def explain_refusal(headers: Mapping[str, str]) -> str | None:
    """Why the page shows nothing to anybody, in a sentence; None when it may."""
    if not secrets_singleton.load_if_toml_exists() and any(
        Path(name).exists() for name in st.get_option("secrets.files")
    ):
        return "Streamlit's secrets file cannot be read, so nobody can be asked to log in and nothing is shown."
    if is_login_configured() or os.environ.get(BEHIND_PROXY, "").strip() == "1":
        return None
    if is_exposed(st.get_option("server.address"), st.get_option("server.allowedHosts") or (), headers):
        return (
            "This page can be reached from other machines and nobody asks who is there, so it shows nothing: put a "
            "proxy that asks for a password before it, or configure log-in, as docs/safety.md tells, or start it with "
            "python3 start.py for this machine alone."
        )
    return stored_password_sentence()


def warn_at_start() -> None:
    """Say on the terminal what the page will refuse and why."""
    with suppress(FormcheckError):  # the page says it
        if (sentence := stored_password_sentence()) is not None:
            _log.warning(sentence)


def admit_visitor() -> None:
    """Let the visitor pass, or stop the page with a sentence or a button to log in."""
    try:
        sentence = explain_refusal(st.context.headers)
    except FormcheckError as error:
        sentence = str(error)
    if sentence is not None:
        _log.error(sentence)
        st.error(layout.escape_markdown(sentence))
        st.stop()
    if is_login_configured() and not st.user.is_logged_in:
        layout.show_heading("Log in, please", "This formcheck can be reached from other machines.")
        if st.button("Log in", type="primary"):
            st.login()
        st.stop()
    if (context := get_script_run_ctx()) is not None:
        WAITING.admit(context.session_id)


def stop_if_store_changed() -> None:
    """Stop the page at the question what to do, where the store was deleted or replaced while the page had it open."""
    missing = missing_store()
    if missing is None:
        return
    path, sentence = missing
    choice = (
        "Put it back under this name and reload the page; or go on with what is there now, an empty store if there "
        "is none."
    )
    st.error(layout.escape_markdown(f"{sentence} {choice}"))
    if st.button("Go on with what is there now"):
        accept_store(path)
        st.cache_data.clear()
        st.cache_resource.clear()
        st.rerun()
    st.stop()
