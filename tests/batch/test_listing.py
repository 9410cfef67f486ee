"""What a batch is made of: folders and lists, right ones and wrong ones."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.batch.listing import COLUMNS, parse_defaults, parse_list, read_requests
from formcheck.batch.requests import ClipRequest
from formcheck.core.errors import UsageError

ANY = ClipRequest("")


def of_list(text: str | bytes, folder: Path = Path("/sets")) -> list[ClipRequest]:
    return parse_list(text if isinstance(text, bytes) else text.encode(), folder / "list.csv", ANY)


def test_every_column_is_read() -> None:
    (request,) = of_list(
        "clip,client,exercise,load,target reps,view,session,set\n"
        'a/"b".mp4,Ada Example,lateral-raise,7.5,12,front,2026-03-01,2\n'.replace('a/"b"', "a/b")
    )
    assert request == ClipRequest(
        *("/sets/a/b.mp4", "lateral-raise", "Ada Example", 7.5, 12),
        view="front",
        session_on=date(2026, 3, 1),
        set_number=2,
        line=2,
    )


def test_what_a_list_leaves_open_is_taken_from_the_call() -> None:
    defaults = parse_defaults(date(2026, 3, 2), exercise_id="squat", client="Ada Example", view="side")
    requests = parse_list(b"clip;exercise\n\na.mp4;\nb.mp4;AUTO\n", Path("/sets/list.csv"), defaults)
    assert [(request.exercise_id, request.client, request.view, request.line) for request in requests] == [
        ("squat", "Ada Example", "side", 3),
        ("auto", "Ada Example", "side", 4),
    ]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_spreadsheets_write_lists_in_several_ways(separator: str) -> None:
    text = separator.join(["Clip", "LOAD (kg)", "Target_Reps"]) + "\r\n" + separator.join(["a.mp4", '"7,5"', "12"])
    (request,) = of_list(b"\xef\xbb\xbf" + text.encode())
    assert (request.load_kg, request.target_reps) == (7.5, 12)


def test_target_reps_may_be_meant_of_each_side() -> None:
    one, other = of_list("clip,target reps\na.mp4,9 each side\nb.mp4,9\n")
    assert (one.target_reps, one.target_each_side) == (9, True)
    assert (other.target_reps, other.target_each_side) == (9, False)
    with pytest.raises(UsageError, match="target reps 'many', which is not a whole number"):
        of_list("clip,target reps\na.mp4,many each side\n")


def test_urls_stay_urls_and_full_paths_full_paths() -> None:
    assert [request.clip for request in of_list("clip\ns3://sets/a.mp4\n/else/b.mp4\n")] == [
        "s3://sets/a.mp4",
        "/else/b.mp4",
    ]


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("", 1, "is empty"),
        ("a.mp4\n", 1, "'a.mp4'"),
        ("client\nAda\n", 1, "must be clip"),
        ("clip,clip\n", 1, "twice"),
        ("clip,weight\n", 1, "'weight'"),
        ("clip,load\na.mp4,5\nb.mp4,heavy\n", 3, "'heavy'"),
        ("clip,load\na.mp4,-1\n", 2, "'-1'"),
        ("clip,load\na.mp4,nan\n", 2, "'nan'"),
        ("clip,load\na.mp4,2001\n", 2, "from 0 to 2000"),
        ("clip,target reps\na.mp4,12.5\n", 2, "'12.5'"),
        ("clip,target reps\na.mp4,0\n", 2, "whole number"),
        ("clip,target reps\na.mp4,١٢\n", 2, "whole number"),
        ("clip,session\na.mp4,1.3.2026\n", 2, "a day such as"),
        ("clip,session\na.mp4,2026-02-30\n", 2, "a day such as"),
        ("clip,session\na.mp4,0026-03-01\n", 2, "a day such as"),
        ("clip,session\na.mp4,9999-03-01\n", 2, "a day such as"),
        ("clip,view\na.mp4,above\n", 2, "known are auto"),
        ("clip,exercise\na.mp4,lateral-rase\n", 2, "did you mean lateral-raise"),
        ("clip,client\na.mp4,\x07\n", 2, "control characters"),
        ("clip,client\na.mp4," + "x" * 300 + "\n", 2, "characters"),
        ("clip,client\n,Ada\n", 2, "names no clip"),
        ("clip\na.mp4,b.mp4\n", 2, "2 cells"),
        ('clip\na.mp4\n"b.mp4\nc.mp4\n', 3, "not comma-separated"),
        (b"clip\na.mp4\n\xff\xfe\n", 3, "UTF-8"),
        ("clip\na\0b.mp4\n", 2, "printed"),
    ],
)
def test_a_wrong_list_is_one_sentence_with_the_line(text: str | bytes, line: int, what: str) -> None:
    with pytest.raises(UsageError) as caught:
        of_list(text)
    message = str(caught.value)
    assert message.startswith(f"Line {line} of 'list.csv' ")
    assert what in message
    assert message.endswith(".")
    assert "\n" not in message


def test_a_list_without_clips_and_a_folder_without_clips(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no clips in the list"):
        of_list("clip\n\n")
    with pytest.raises(UsageError, match="no clips in the folder"):
        read_requests(tmp_path, ANY)
    with pytest.raises(UsageError, match="no folder or list"):
        read_requests(tmp_path / "none.csv", ANY)


def test_a_folder_s_clips_by_name(tmp_path: Path) -> None:
    for name in ("b.MOV", "a.mp4", ".hidden.mp4", "notes.txt", "a.truth.json"):
        (tmp_path / name).touch()
    (tmp_path / "folder.mp4").mkdir()
    assert [request.name for request in read_requests(tmp_path, ANY)] == ["a.mp4", "b.MOV"]


CELLS = st.one_of(
    st.text(max_size=12), st.sampled_from([*COLUMNS, "auto", "squat", '"', ",", ";", "12", "7,5", "2026-03-01", "\n"])
)


@given(st.one_of(st.binary(max_size=200), st.lists(st.lists(CELLS, max_size=6), max_size=6)))
def test_whatever_is_in_a_list_gives_orders_or_one_sentence(made: bytes | list[list[str]]) -> None:
    data = made if isinstance(made, bytes) else "\n".join(",".join(row) for row in made).encode("utf-8", "replace")
    for text in (data, b"clip,load,session,client,exercise\n" + data):
        requests, message = [], "."
        try:
            requests = of_list(text)
        except UsageError as error:
            message = str(error)
        assert message.endswith(".")
        assert "\n" not in message
        assert bool(requests) == (message == ".")
        assert all(request.clip for request in requests)
        assert all(request.load_kg is None or 0 <= request.load_kg <= 2000 for request in requests)
