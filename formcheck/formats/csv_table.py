"""Reviews as CSV tables for a spreadsheet. No cell of text can act as a formula there."""

import csv
import io
from collections.abc import Iterable, Sequence

from formcheck.core.model import Review
from formcheck.formats import make_document

Cell = str | int | float | bool | None

_STARTS_A_FORMULA = tuple("=+-@\t\r\n\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH HYPHEN-MINUS}"
                          "\N{FULLWIDTH COMMERCIAL AT}")  # fmt: skip
MEASURE_COLUMNS = ("rep", "rep_complete", "rep_by_hand", "measure", "side", "value", "margin", "unit", "missing_reason",
                   "margin_origin", "rep_side")  # fmt: skip


def write_csv(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A CSV table (RFC 4180): numbers as they are, missing as an empty cell, text guarded.

    Text that a spreadsheet would take for a formula is written with an apostrophe before it (the counter-measure of
    the OWASP page on CSV injection).
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([_guard_cell(cell) for cell in row] for row in rows)
    return out.getvalue()


def write_measures_csv(review: Review) -> str:
    """Every measure of a review, one row each; numbers as in the review document."""
    whole = make_document(review)
    reps = {rep["number"]: rep for rep in whole["reps"]}
    rows = []
    for item in whole["measures"]:
        rep = reps.get(item["rep"], {})
        known = (item["rep"], rep.get("complete"), rep.get("by_hand"), item["name"], item["side"])
        rows.append((*known, *(item[key] for key in MEASURE_COLUMNS[5:-1]), rep.get("side")))
    return write_csv(MEASURE_COLUMNS, rows)


def _guard_cell(cell: Cell) -> Cell:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if not isinstance(cell, str):
        return cell
    text = cell.replace("\0", "")
    return f"'{text}" if text.lstrip(" ").startswith(_STARTS_A_FORMULA) else text
