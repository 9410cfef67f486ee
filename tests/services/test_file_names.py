"""What files are called: nothing in a name that a file system refuses (POSIX portable set, letters of any script)."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from formcheck.services.file_names import name_file
from formcheck.storage import StoredReview

ROW = StoredReview(
    id=1, created_at=datetime(2026, 11, 23, tzinfo=UTC), client="Mira Holt", client_id=1, clip_path=None,
    clip_name="a.mp4", clip_sha256="0" * 64, exercise_id="lateral-raise", exercise_name="Lateral raise",
    variation=None, view="front", load_kg=None, target_reps=None, complete_reps=6, partial_reps=0, met=1, not_met=1,
    undecided=0, session_on=date(2026, 11, 23), set_number=1, by_hand=False,
)  # fmt: skip


@pytest.mark.parametrize(
    ("client", "number", "name"),
    [
        ("Mira Holt", 1, "mira-holt_lateral-raise_2026-11-23"),
        ("Mira Holt", 2, "mira-holt_lateral-raise_2026-11-23_set-2"),
        (None, 1, "no-client_lateral-raise_2026-11-23"),
        ("../../etc/passwd\x00", 1, "etc-passwd_lateral-raise_2026-11-23"),
        ("Zoë Łąka", 1, "zoë-łąka_lateral-raise_2026-11-23"),
        ('a/b\\c:*?"<>|', 1, "a-b-c_lateral-raise_2026-11-23"),
    ],
)
def test_a_file_is_named_by_client_exercise_and_day(client: str | None, number: int, name: str) -> None:
    assert name_file(replace(ROW, client=client, set_number=number)) == name


def test_a_long_name_is_cut() -> None:
    assert len(name_file(replace(ROW, client="w" * 400))) < 200
    assert "lateral-raise_seated" not in name_file(replace(ROW, exercise_id="lateral-raise/seated"))
    assert "lateral-raise-seated" in name_file(replace(ROW, exercise_id="lateral-raise/seated"))
