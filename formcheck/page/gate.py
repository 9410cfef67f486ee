"""Who may come in: everybody on this machine as long as nobody else can reach the page, else whoever has the password.

The page counts as exposed when it listens beyond this machine or answers to another name than this machine's own, as
it does behind a proxy. Exposed and without a password set, it shows nothing but how to set one.
"""

import ipaddress
import logging
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import streamlit as st

from formcheck.errors import FormcheckError
from formcheck.page import frame
from formcheck.store.home import data_home
from formcheck.store.password import LONGEST, Hashed, kept_password

SET_ONE = "formcheck password"
_INSIDE = "formcheck_inside"
_OWN_NAMES = ("localhost", "localhost.localdomain")
_log = logging.getLogger(__name__)


@dataclass
class Attempts:
    """Bounds how fast passwords can be tried: after some wrong ones each sender waits, and all together too.

    Parameters
    ----------
    free : wrong tries a sender has before waiting; each further one doubles the wait.
    a_minute : wrong tries of all senders together within a minute.
    """

    free: int = 3
    longest_s: float = 300.0
    a_minute: int = 30
    clock: Callable[[], float] = time.monotonic
    _wrong: dict[str, tuple[int, float]] = field(default_factory=dict)
    _recent: deque[float] = field(default_factory=deque)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_s(self, sender: str) -> float:
        """Seconds until this sender may try again; 0: now."""
        with self._lock:
            return self._wait(sender, self.clock())

    def tried(self, sender: str, kept: Hashed, password: str) -> bool:
        """Whether the password is right; one at a time, and never while the sender has to wait."""
        with self._lock:
            now = self.clock()
            if self._wait(sender, now) > 0:
                return False
            if len(password) <= LONGEST and kept.matches(password):
                self._wrong.pop(sender, None)
                return True
            count = self._wrong.pop(sender, (0, 0.0))[0] + 1
            self._wrong[sender] = (count, now)
            while len(self._wrong) > 1000:  # the oldest go: memory does not grow with the senders
                del self._wrong[next(iter(self._wrong))]
            self._recent.append(now)
            return False

    def _wait(self, sender: str, now: float) -> float:
        while self._recent and now - self._recent[0] >= 60:
            self._recent.popleft()
        all_together = 60 - (now - self._recent[0]) if len(self._recent) >= self.a_minute else 0.0
        count, last = self._wrong.get(sender, (0, now))
        own = min(2.0 ** min(count - self.free, 20), self.longest_s) - (now - last) if count >= self.free else 0.0
        return max(0.0, own, all_together)


ATTEMPTS = Attempts()


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


def exposed(address: str | None, names: Sequence[str], host: str | None) -> bool:
    """Whether somebody else than this machine's own users can reach the page.

    Parameters
    ----------
    address : what the server listens on; None: everything.
    names : the host names it answers to; empty: all.
    host : the name it was called by, where known.
    """
    return not (
        address and is_own(address) and names and all(map(is_own, names)) and (host is None or is_own(host))
    )  # fmt: skip


def admit() -> None:
    """Let the visitor pass, or stop the page at the question for the password."""
    try:
        kept = kept_password(data_home())
    except FormcheckError as error:
        st.error(frame.plain(str(error)))
        st.stop()
    if kept is None:
        address, names = st.get_option("server.address"), st.get_option("server.allowedHosts")
        if not exposed(address, names or (), st.context.headers.get("Host")):
            return
        sentence = (
            "This page can be reached from other machines and has no password, so it shows nothing: "
            f"set one with “{SET_ONE}” on the machine it runs on, or start it with python3 start.py."
        )
        _log.error(sentence)
        st.error(sentence)
        st.stop()
    if st.session_state.get(_INSIDE) != kept.key:
        _ask(kept)


def _ask(kept: Hashed) -> None:
    """The question for the password; the rest of the page is not run."""
    frame.heading("Password, please", "This formcheck can be reached from other machines.")
    sender = st.context.ip_address or "here"
    with st.form("gate", clear_on_submit=True, width=420):
        given = st.text_input("Password", type="password", max_chars=LONGEST, autocomplete="current-password")
        pressed = st.form_submit_button("Come in", type="primary")
    if pressed:
        wait = ATTEMPTS.wait_s(sender)
        if wait > 0:
            st.error(f"Too many wrong passwords: try again in {max(1, round(wait))} s.")
        elif ATTEMPTS.tried(sender, kept, given):
            st.session_state[_INSIDE] = kept.key
            st.rerun()
        else:
            st.error("That is not the password.")
    st.stop()
