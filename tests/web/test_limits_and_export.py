"""Own limits, handing over, deleting and the examples on their way: what the pages say and do, without a browser."""

import io
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.analysis import analyse
from formcheck.demo.install import hold_install_lock, write_progress
from formcheck.exercises.registry import get_exercise
from formcheck.pose.recording import save_recording
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, default_store
from formcheck.web.components.limit_html import render_effects
from tests import lifter
from tests.facts import says
from tests.web.test_pages import read_page

RAISE = get_exercise("lateral-raise")
HEIGHT = next(check for check in RAISE.checks if check.id == "height")
CLIENT = "Ada <i>Invented</i>"
SET = lifter.Set((88.0, 87.0, 88.0))
"""A set that meets the height the exercise asks for, with a margin to spare, and would not meet 110 degrees."""


@pytest.fixture
def number(formcheck_home: Path) -> int:
    """A review of a client, its landmarks beside it."""
    t = lifter.times(SET.length_s)
    recording = lifter.film(t, left=SET.course(t), right=SET.course(t))
    with Store.open(default_store()) as store:
        made = store.save_review(analyse(recording, RAISE).review, created_at=datetime.now(UTC), client=CLIENT)
    files = DataFolder(formcheck_home).artifacts(made)
    files.folder.mkdir(parents=True)
    save_recording(recording, files.recording)
    return made


def at(open_page: Callable[..., AppTest], page: str, **query: str) -> AppTest:
    opened = open_page()
    for name, value in query.items():
        opened.query_params[name] = value
    opened = opened.switch_page(f"formcheck/web/pages/{page}.py").run()
    assert not opened.exception
    return opened


def field(items: Any, *parts: str) -> Any:
    (found,) = [item for item in items if all(part in str(item.key) for part in parts)]
    return found


def limits_in_force(client: str | None = None) -> list[float | None]:
    with Store.open(default_store()) as store:
        return [item.changes["height"].limit for item in store.limits_of(RAISE.id, client=client) if item.changes]


# ---------------------------------------------------------------- own limits


def test_a_change_is_tried_on_the_newest_reviews_and_says_so() -> None:
    assert "no past review" in render_effects([], 0)
    assert says(render_effects([], 1), "no", "1")
    assert says(render_effects([], 500), "no", "500")
    assert says(render_effects([], 501), "no", "newest 500")


def test_a_limit_shows_what_it_would_change_before_it_is_kept(open_page: Callable[..., AppTest], number: int) -> None:
    page = at(open_page, "own_limits", exercise=RAISE.id)
    assert says(read_page(page), "nothing", "limits")
    field(page.number_input, "limit_", "_height").set_value(110.0).run()
    assert not page.exception
    text = read_page(page)
    assert "Ada &lt;i&gt;Invented&lt;/i&gt;" in text
    assert says(text, "to change")
    assert limits_in_force() == []
    page.button(key="drop_limits").click().run()
    assert says(read_page(page), "nothing", "limits")
    assert field(page.number_input, "limit_", "_height").value == HEIGHT.limit


def test_limits_are_kept_put_back_and_brought_again(open_page: Callable[..., AppTest], number: int) -> None:
    with Store.open(default_store()) as store:
        before = store.load_review(number)
    page = at(open_page, "own_limits", exercise=RAISE.id)
    field(page.number_input, "limit_", "_height").set_value(110.0).run()
    page.button(key="keep_limits").click().run()
    assert not page.exception
    assert limits_in_force() == [110.0]
    assert limits_in_force(CLIENT) == [110.0]  # they hold for everybody
    page.button(key="reset_limits").click().run()
    assert limits_in_force() == []
    field(page.button, "restore_").click().run()
    assert not page.exception
    assert limits_in_force() == [110.0]
    with Store.open(default_store()) as store:
        assert store.load_review(number) == before  # its findings stay


def test_a_clients_own_limits_hold_for_that_client_alone(open_page: Callable[..., AppTest], number: int) -> None:
    page = at(open_page, "own_limits", exercise=RAISE.id)
    page.selectbox(key="limits_for").set_value(1).run()
    field(page.number_input, "limit_", "_height").set_value(70.0).run()
    field(page.text_area, "cue_", "_height").set_value("Up to the ribs is enough for now.").run()
    page.button(key="keep_limits").click().run()
    assert not page.exception
    assert limits_in_force() == []
    with Store.open(default_store()) as store:
        (own,) = store.limits_of(RAISE.id, client=CLIENT)
    assert (own.changes["height"].limit, own.changes["height"].cue) == (70.0, "Up to the ribs is enough for now.")


# ---------------------------------------------------------------- handing over and deleting


def test_everything_of_a_client_is_put_into_one_file(
    open_page: Callable[..., AppTest], number: int, formcheck_home: Path
) -> None:
    with Store.open(default_store()) as store:
        (client,) = store.list_clients()
    page = at(open_page, "export_or_delete", client=str(client.id))
    assert says(read_page(page), "report", "browser", "paper")
    assert not [item for item in page.download_button if item.key == "get_export"]
    page.checkbox(key="export_blur").check().run()
    assert says(read_page(page), "missed")
    page.checkbox(key="export_blur").uncheck().run()
    page.button(key="make_export").click().run()
    assert not page.exception
    place = DataFolder(formcheck_home).client_export(client.id)
    with zipfile.ZipFile(io.BytesIO(place.read_bytes())) as archive:
        names = {Path(name).name for name in archive.namelist()}
    assert {"client.json", "sets.csv", "review.json", "report.html", "report.pdf"} <= names
    assert says(read_page(page), "clip", "not where it was")  # there is no clip of a drawn set
    assert [item.key for item in page.download_button] == ["get_export"]
    with place.open("ab") as file:
        file.truncate(1_100_000_000)  # of holes, which take no room
    page.run()
    assert not page.download_button
    assert says(page.info[0].value, "1.1 GB")
    page.button(key="drop_export").click().run()
    assert not place.exists()


def test_a_client_is_deleted_only_after_the_name_is_typed(
    open_page: Callable[..., AppTest], number: int, formcheck_home: Path
) -> None:
    with Store.open(default_store()) as store:
        (client,) = store.list_clients()
    page = at(open_page, "export_or_delete", client=str(client.id))
    assert says(read_page(page), "1 review")
    assert page.button(key="delete_client").disabled
    field(page.text_input, "confirm_").set_value("Ada").run()
    assert says(read_page(page), "not the name")
    assert page.button(key="delete_client").disabled
    field(page.text_input, "confirm_").set_value(f"  {CLIENT} ").run()
    page.button(key="delete_client").click().run()
    assert not page.exception
    assert says(page.success[0].value, "deleted", "1 review")
    with Store.open(default_store()) as store:
        assert not store.list_clients()
        assert not store.list_reviews()
    assert not DataFolder(formcheck_home).artifacts(number).folder.exists()


def test_one_review_is_deleted_behind_a_tick(
    open_page: Callable[..., AppTest], number: int, formcheck_home: Path
) -> None:
    with Store.open(default_store()) as store:
        other = store.load_review(number)
        clip = replace(other.clip, sha256="d" * 64)
        remaining = store.save_review(replace(other, clip=clip), created_at=datetime.now(UTC), client=CLIENT)
    page = open_page(review=str(number))
    assert page.button(key="delete_review").disabled
    page.checkbox(key=f"sure_{number}").check().run()
    page.button(key="delete_review").click().run()
    assert not page.exception
    assert says(page.success[0].value, "review", "deleted")
    with Store.open(default_store()) as store:
        assert [row.id for row in store.list_reviews()] == [remaining]
    assert not DataFolder(formcheck_home).artifacts(number).folder.exists()


def test_a_damaged_review_says_so_and_can_be_deleted(open_page: Callable[..., AppTest], number: int) -> None:
    with Store.open(default_store()) as store, store.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE documents SET body = '{'")
    page = open_page(review=str(number))
    assert not page.exception
    assert says(page.error[0].value, "damaged")
    page.checkbox(key=f"sure_{number}").check().run()
    page.button(key="delete_review").click().run()
    with Store.open(default_store()) as store:
        assert store.list_reviews() == []


# ---------------------------------------------------------------- the examples on their way


@pytest.mark.parametrize("where", ["review_set", "reviewed_sets"])
def test_examples_on_their_way_are_told_while_they_are(
    open_page: Callable[..., AppTest], formcheck_home: Path, where: str
) -> None:
    with hold_install_lock(formcheck_home) as ours:
        assert ours
        write_progress(formcheck_home, 3, 11)
        page = at(open_page, where)
        assert says(page.info[0].value, "3 of 11")
        write_progress(formcheck_home, 4, 11)
        page.run()
        assert says(page.info[0].value, "4 of 11")
    page.run()
    assert not any(says(item.value, "of 11 clips") for item in page.info)
