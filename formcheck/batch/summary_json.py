"""What became of a batch, as JSON.

``format``, ``version``, ``counts`` by state, the ``cautions`` for everyone, and ``clips`` in the list's order.
"""

import json
from typing import Any

from formcheck.batch.requests import Outcome, Summary
from formcheck.exercises.registry import general_cautions

FORMAT, VERSION = "formcheck-batch", 1


def encode_summary(summary: Summary) -> str:
    """The document."""
    counts = summary.counts
    return json.dumps(
        {
            "format": FORMAT,
            "version": VERSION,
            "counts": {state: counts[state] for state in ("reviewed", "there", "again", "failed")},
            "cautions": list(general_cautions()),
            "clips": [_clip(outcome) for outcome in summary.outcomes],
        },
        indent=2,
        ensure_ascii=False,
    )


def _clip(outcome: Outcome) -> dict[str, Any]:
    order = outcome.order
    # A file name may hold bytes that are no text.
    clip = order.clip.encode("utf-8", "replace").decode("utf-8")
    return {
        "clip": clip,
        "line": order.line,
        "client": order.client,
        "state": outcome.state,
        "exercise": outcome.exercise_id,
        "review": outcome.review_id,
        "complete_reps": outcome.reps,
        "text": outcome.text,
        "problems": [{"code": item.code, "parameters": dict(item.parameters)} for item in outcome.problems],
    }
