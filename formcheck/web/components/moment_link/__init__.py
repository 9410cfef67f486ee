"""A button that copies the address of a moment of a set; a page opened at such an address shows that moment."""

from formcheck.web.components.assets import declare_component

COPIED = "Copied. The link works on this machine only."
SHOWN = "Copy this; it works on this machine only."

_mount = declare_component("moment_link", "moment_link.html", "../buttons.css", "moment_link.css", "moment_link.js")


def mount_moment_link(review_id: int, clip: str, at_s: float | None, key: str) -> None:
    """Put the button into the page.

    Parameters
    ----------
    clip : key of the container that holds the clip.
    at_s : the moment that the page's address names, seconds of the clip; None where it names none.
    """
    words = {"copied": COPIED, "shown": SHOWN}
    _mount(key=key, data={"review": str(review_id), "clip": clip, "at": at_s, **words}, height="content")
