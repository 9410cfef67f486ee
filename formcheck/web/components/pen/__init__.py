"""A pen on the picture that the clip stands at."""

from typing import Any

from formcheck.coaching.comment import MOST_POINTS, MOST_STROKES, Stroke
from formcheck.core.landmarks import ClipInfo
from formcheck.web.components.assets import declare_component

_mount = declare_component("pen", "pen.html", "pen.css", "pen.js", isolate_styles=False)


def mount_pen(clip: ClipInfo, container: str, key: str) -> tuple[Stroke, ...]:
    """Put the picture and the pen into the page; the strokes drawn so far.

    Parameters
    ----------
    container : key of the container that holds the clip.
    """
    data = {"clip": container, "width": clip.width, "height": clip.height}
    most = {"strokes": MOST_STROKES, "points": MOST_POINTS}
    result: Any = _mount(
        key=key, data={**data, "most": most}, default={"strokes": []}, on_strokes_change=_ignore, height="content"
    )
    return read_strokes(result.strokes, clip)


def read_strokes(sent: Any, clip: ClipInfo) -> tuple[Stroke, ...]:
    """The strokes that a browser sent, kept inside the picture; what is none of them is left out."""
    strokes = []
    for line in sent if isinstance(sent, list) else []:
        points = []
        for point in line if isinstance(line, list) else []:
            if isinstance(point, list) and len(point) == 2 and all(isinstance(value, int | float) for value in point):
                x, y = min(max(float(point[0]), 0.0), clip.width), min(max(float(point[1]), 0.0), clip.height)
                points.append((float(x), float(y)))
        if points:
            strokes.append(tuple(points[:MOST_POINTS]))
    return tuple(strokes[:MOST_STROKES])


def _ignore() -> None:
    """What was drawn is read where the component is mounted."""
