"""Keys, boxes and buttons of the list of reviewed sets, which is a table of the page itself."""

from typing import Any

from formcheck.web.components.assets import declare_component

_mount = declare_component("set_list", "set_list.js", isolate_styles=False)


def mount_set_list(scope: str) -> object | None:
    """Put the behaviour into the page; what was asked for since the last run, None where nothing was.

    Parameters
    ----------
    scope : key of the container that holds the table (``templates/inbox.j2``).
    """
    sent: Any = _mount(key="fc_set_list", data={"scope": scope}, height="content", on_act_change=lambda: None)
    return getattr(sent, "act", None)
