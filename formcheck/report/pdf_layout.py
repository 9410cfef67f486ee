"""The parts a printed report is set from: letters, colours, marks, tables. Every text is escaped."""

import base64
import io
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color, HexColor, white
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Image, KeepTogether, ListFlowable, ListItem, Paragraph, Table, TableStyle

from formcheck.core.model import Verdict

MARGIN = 17 * mm
WIDTH = A4[0] - 2 * MARGIN
PADDING = 6
"""The frame a page is set in keeps so many points free at each side, which the margins make up for."""
INK, MUTED, LINE, DEEP = HexColor("#0f1a20"), HexColor("#50616a"), HexColor("#c3ced3"), HexColor("#0b4a5c")
COLOURS: dict[Verdict, Color] = {
    "met": HexColor("#0b6350"),
    "not_met": HexColor("#9a3b0a"),
    "undecided": HexColor("#475474"),
}
SOFT: dict[Verdict, Color] = {"met": white, "not_met": HexColor("#fbeadf"), "undecided": HexColor("#e9ecf4")}
_FACE, _BOLD = "formcheck-text", "formcheck-bold"


@lru_cache(maxsize=1)
def styles() -> dict[str, ParagraphStyle]:
    """The ways a paragraph is set; makes the letters known on the first call.

    matplotlib brings the DejaVu letters along: Latin, Greek, Cyrillic and all signs used here.
    """
    from matplotlib import get_data_path
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(TTFont(_FACE, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(TTFont(_BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    pdfmetrics.registerFontFamily(_FACE, normal=_FACE, bold=_BOLD, italic=_FACE, boldItalic=_BOLD)
    text = ParagraphStyle(
        "text", fontName=_FACE, fontSize=9, leading=13, textColor=INK, alignment=TA_LEFT, splitLongWords=1
    )

    def like(name: str, **change: Any) -> ParagraphStyle:
        return ParagraphStyle(name, parent=text, **change)

    made = [
        text,
        like("title", fontName=_BOLD, fontSize=20, leading=25, spaceAfter=4),
        like("section", fontName=_BOLD, fontSize=12.5, leading=16, spaceBefore=15, spaceAfter=6, keepWithNext=1),
        like("part", fontName=_BOLD, fontSize=10, leading=13, spaceBefore=8, spaceAfter=4, keepWithNext=1),
        like("lead", fontSize=11, leading=16, spaceBefore=6, spaceAfter=9),
        like("muted", fontSize=8, leading=11.5, textColor=MUTED),
        like("strong", fontName=_BOLD),
        like("cell", fontSize=8, leading=11),
        like("head", fontName=_BOLD, fontSize=7.5, leading=9.5, textColor=MUTED),
        like("cue-head", fontName=_BOLD, fontSize=9, textColor=white),
        like("cue", fontName=_BOLD, fontSize=12.5, leading=17, textColor=white),
        like("cue-why", textColor=white),
    ]
    return {style.name: style for style in made}


def words(text: str, style: str = "text") -> Paragraph:
    """A paragraph of plain text: nothing in it is taken for markup or control."""
    shown = "".join(char if char.isprintable() or char == "\u00a0" else " " for char in text)
    return Paragraph(escape(shown), styles()[style])


def section(title: str, level: int = 0) -> list[Flowable]:
    """A heading that also stands in the document's outline."""
    return [_Bookmark(title, level), words(title, "section" if level == 0 else "part")]


def lines(texts: Sequence[str], style: str = "text", *, numbered: bool = False) -> ListFlowable:
    """Sentences as a list."""
    items: list[Any] = [ListItem(words(text, style), spaceAfter=2) for text in texts]
    kind: dict[str, Any] = {"bulletType": "1"} if numbered else {"bulletType": "bullet", "start": "•"}
    kind |= {"bulletFontName": _FACE, "bulletFontSize": 8, "bulletColor": MUTED}
    return ListFlowable(items, leftIndent=13, **kind)


def box(
    content: Sequence[Flowable], *, fill: Color = white, edge: Color | None = LINE, bar: Color | None = None
) -> Table:
    """Paragraphs on a ground of their own, kept on one page as far as they fit.

    Parameters
    ----------
    bar : a broad line at the left edge.
    """
    look: list[tuple[Any, ...]] = [
        ("BACKGROUND", (0, 0), (-1, -1), fill),
        ("LEFTPADDING", (0, 0), (-1, -1), 9),
        ("RIGHTPADDING", (0, 0), (-1, -1), 9),
        ("TOPPADDING", (0, 0), (-1, -1), 6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 7),
    ]
    look += [("BOX", (0, 0), (-1, -1), 0.6, edge)] if edge else []
    look += [("LINEBEFORE", (0, 0), (0, -1), 4, bar)] if bar else []
    return Table([[list(content)]], colWidths=[WIDTH], style=TableStyle(look), spaceAfter=5, hAlign="LEFT")


def table(
    head: Sequence[str], rows: Sequence[Sequence[str]], first: float = 15 * mm, last: float | None = None
) -> Table:
    """A table whose head is repeated on every page.

    Parameters
    ----------
    rows : texts; a line break separates two values of one cell.
    first, last : widths of the outer columns in points; the others share what is left.
    """
    inner = len(head) - 1 - (last is not None)
    each = (WIDTH - first - (last or 0.0)) / max(inner, 1)
    widths = [first, *[each] * inner, *([last] if last is not None else [])]
    body = [[[words(part, "cell") for part in cell.split("\n")] for cell in row] for row in rows]
    look = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.5, LINE),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 5),
            ("TOPPADDING", (0, 0), (-1, -1), 3),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
        ]
    )
    return Table(
        [[words(name, "head") for name in head], *body], colWidths=widths, style=look, repeatRows=1, hAlign="LEFT"
    )


def picture(data: bytes, width: float, height: float | None = None) -> Image:
    """A picture that keeps its shape inside a width and, if given, a height (points)."""
    from PIL import Image as Pillow

    with Pillow.open(io.BytesIO(data)) as opened:
        across, down = opened.size
    scale = min(width / across, (height or 1e9) / down)
    return Image(io.BytesIO(data), width=across * scale, height=down * scale, hAlign="LEFT")


def picture_bytes(data_uri: str) -> bytes:
    """What a data address holds."""
    return base64.b64decode(data_uri.partition(",")[2])


def together(content: Sequence[Flowable]) -> KeepTogether:
    """Not parted by the end of a page where it fits on one."""
    return KeepTogether(list(content))


def group_heading(verdict: Verdict, name: str) -> Table:
    """Heading of a group of findings: shape and word."""
    text = Paragraph(escape(name), ParagraphStyle(verdict, parent=styles()["part"], textColor=COLOURS[verdict]))
    look = [
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 7),
    ]
    return Table([[_Mark(verdict), text]], colWidths=[20, WIDTH - 20], style=TableStyle(look), hAlign="LEFT")


class _Mark(Flowable):
    """The shape beside a group's name: a disc with a tick, a diamond with an arrow head, a dashed square."""

    def __init__(self, verdict: Verdict):
        super().__init__()
        self.verdict: Verdict = verdict
        self.width = self.height = 13.0

    def draw(self) -> None:
        canvas: Canvas = self.canv
        canvas.scale(self.width / 24, self.width / 24)
        canvas.setFillColor(COLOURS[self.verdict])
        canvas.setStrokeColor(COLOURS[self.verdict])
        if self.verdict == "met":
            canvas.circle(12, 12, 11, stroke=0, fill=1)
            self._stroke(canvas, white, [(6.5, 11.5), (10.1, 7.9), (17.5, 15.9)])
        elif self.verdict == "not_met":
            shape = canvas.beginPath()
            shape.moveTo(12, 1)
            for x, y in ((23, 12), (12, 23), (1, 12)):
                shape.lineTo(x, y)
            shape.close()
            canvas.drawPath(shape, stroke=0, fill=1)
            self._stroke(canvas, white, [(7, 9.5), (12, 14.5), (17, 9.5)])
        else:
            canvas.setLineWidth(2)
            canvas.setDash(4, 3)
            canvas.roundRect(2, 2, 20, 20, 4, stroke=1, fill=0)
            canvas.setDash()
            self._stroke(canvas, COLOURS[self.verdict], [(8, 12), (16, 12)])

    @staticmethod
    def _stroke(canvas: Canvas, colour: Color, points: Sequence[tuple[float, float]]) -> None:
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(2.4)
        canvas.setLineCap(1)
        path = canvas.beginPath()
        path.moveTo(*points[0])
        for x, y in points[1:]:
            path.lineTo(x, y)
        canvas.drawPath(path, stroke=1, fill=0)


class _Bookmark(Flowable):
    """A place the outline leads to; takes no room."""

    def __init__(self, title: str, level: int):
        super().__init__()
        self.title, self.level = title, level
        self.width = self.height = 0.0
        self.keepWithNext = 1

    def draw(self) -> None:
        key = f"part-{self.canv.getPageNumber()}-{self.title}"
        self.canv.bookmarkPage(key)
        self.canv.addOutlineEntry(self.title, key, level=self.level)
