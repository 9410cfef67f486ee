"""Waits until no menu is open in the browser, so that running the page again takes none out of a person's hands."""

from typing import Any

from formcheck.web.components.assets import declare_component

_mount = declare_component("menu_watch", "menu_watch.js")


def await_closed_menus(key: str, news: int) -> bool:
    """Whether no menu is open, asked of the browser whenever there are other news; it answers by another run.

    Parameters
    ----------
    news : a number that is another one when there is something new to be shown.
    """
    sent: Any = _mount(key=key, data={"news": news}, height="content", on_closed_change=lambda: None)
    return getattr(sent, "closed", None) == news
