"""What a coach's answers are pressed with: buttons that are a part of the page's own text."""

from typing import Any

from formcheck.web.components.assets import declare_component

_mount = declare_component("answers", "answers.js", isolate_styles=False)


def mount_answers(scope: str) -> object | None:
    """Put the behaviour into the page; what was pressed since the last run, None where nothing was.

    Parameters
    ----------
    scope : key of the container that holds the buttons (macro ``answers`` of ``templates/pieces.j2``).
    """
    sent: Any = _mount(key="fc_answers", data={"scope": scope}, height="content", on_act_change=lambda: None)
    return getattr(sent, "act", None)
