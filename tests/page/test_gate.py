"""Who may see the page: this machine's own users, or whoever has the password."""

from pathlib import Path

import pytest
from streamlit import config
from streamlit.testing.v1 import AppTest

from formcheck.page import gate
from formcheck.page.gate import Attempts, exposed, is_own
from formcheck.store.password import FILE, hashed, set_password

CHEAP = (2**4, 8, 1)
PASSWORD = "lantern/over/harbour"
OWN = ("127.0.0.1", "localhost")


@pytest.mark.parametrize("name", ["127.0.0.1", "127.8.9.1", "localhost", "LOCALHOST:8501", "::1", "[::1]:8501"])
def test_own_names(name: str) -> None:
    assert is_own(name)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "0.0.0.0",
        "::",
        "192.168.1.4",
        "gym.example",
        "localhost.gym.example",
        "127.0.0.1.gym.example",
        "*",
        "[::]:1",
    ],
)
def test_foreign_names(name: str) -> None:
    assert not is_own(name)


def test_exposed() -> None:
    assert not exposed("127.0.0.1", OWN, None)
    assert not exposed("127.0.0.1", OWN, "localhost:8501")
    assert exposed("0.0.0.0", OWN, "localhost:8501")
    assert exposed(None, OWN, None)  # an unset address listens everywhere
    assert exposed("", OWN, None)
    assert exposed("127.0.0.1", (*OWN, "gym.example"), None)  # a proxy passes that name on
    assert exposed("127.0.0.1", (), None)
    assert exposed("127.0.0.1", OWN, "gym.example")


@pytest.fixture
def page(root: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setattr(gate, "ATTEMPTS", Attempts(a_minute=3, clock=lambda: 5.0))
    return AppTest.from_file(str(root / "app.py"), default_timeout=30)


def seen(page: AppTest) -> str:
    return " ".join(str(item.value) for item in (*page.error, *page.get("html"))) + str(page.button)


def test_on_this_machine_alone_nobody_is_asked(page: AppTest) -> None:
    page.run()
    assert not page.exception
    assert not [item for item in page.text_input if item.label == "Password"]
    assert not page.error


@pytest.mark.parametrize(("option", "value"), [("server.address", "0.0.0.0"), ("server.allowedHosts", ["gym.example"])])
def test_exposed_without_a_password_nothing_is_shown(page: AppTest, option: str, value: object) -> None:
    before = config.get_option(option)
    config.set_option(option, value)
    try:
        page.run()
    finally:
        config.set_option(option, before)
    assert not page.exception
    assert [error.value for error in page.error] == [
        "This page can be reached from other machines and has no password, so it shows nothing: set one with "
        "“formcheck password” on the machine it runs on, or start it with python3 start.py."
    ]
    assert not page.button


def ask(page: AppTest, password: str) -> AppTest:
    page.text_input[0].set_value(password)
    page.button[0].click()
    return page.run()


def test_the_password_opens_the_page(page: AppTest, formcheck_home: Path) -> None:
    set_password(formcheck_home, PASSWORD, costs=CHEAP)
    page.run()
    assert [item.label for item in page.text_input] == ["Password"]
    assert len(page.button) == 1
    ask(page, "lantern/over/haven")
    assert [error.value for error in page.error] == ["That is not the password."]
    ask(page, PASSWORD)
    assert not page.exception
    assert not [item for item in page.text_input if item.label == "Password"]
    assert [item for item in page.button if item.label == "Review the set"]
    page.run()
    assert not [item for item in page.text_input if item.label == "Password"]
    set_password(formcheck_home, "another/one/by/now", costs=CHEAP)  # whoever was in is out
    page.run()
    assert [item.label for item in page.text_input] == ["Password"]


def test_a_damaged_password_file_opens_nothing(page: AppTest, formcheck_home: Path) -> None:
    (formcheck_home / FILE).write_text("open sesame")
    page.run()
    assert not page.exception
    assert len(page.error) == 1
    assert not page.button


def test_trying_becomes_slow(page: AppTest, formcheck_home: Path) -> None:
    set_password(formcheck_home, PASSWORD, costs=CHEAP)
    page.run()
    for _ in range(6):
        ask(page, "wrong and wrong")
    assert "Too many wrong passwords: try again in" in page.error[0].value
    ask(page, PASSWORD)
    assert "Too many" in page.error[0].value


def test_waits_double_up_to_a_ceiling() -> None:
    now = [1000.0]
    attempts, kept = Attempts(clock=lambda: now[0]), hashed(PASSWORD, costs=CHEAP)
    waits = []
    for _ in range(16):
        assert not attempts.tried("a", kept, "wrong and wrong")
        waits.append(attempts.wait_s("a"))
        now[0] += waits[-1]
    assert waits == [0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300, 300, 300]
    assert attempts.wait_s("b") == 0
    assert attempts.tried("a", kept, PASSWORD)
    assert attempts.wait_s("a") == 0


def test_while_waiting_even_the_right_one_is_not_tried() -> None:
    attempts, kept = Attempts(clock=lambda: 5.0), hashed(PASSWORD, costs=CHEAP)
    for _ in range(3):
        attempts.tried("a", kept, "wrong and wrong")
    assert not attempts.tried("a", kept, PASSWORD)


def test_many_senders_together_are_bounded_too() -> None:
    now = [0.0]
    attempts, kept = Attempts(clock=lambda: now[0]), hashed(PASSWORD, costs=CHEAP)
    for number in range(30):
        attempts.tried(f"10.0.0.{number}", kept, "wrong and wrong")
    assert attempts.wait_s("somebody new") == 60
    now[0] += 60
    assert attempts.wait_s("somebody new") == 0


def test_memory_does_not_grow_with_the_senders() -> None:
    attempts, kept = Attempts(a_minute=10**9), hashed(PASSWORD, costs=CHEAP)
    for number in range(1500):
        attempts.tried(str(number), kept, "wrong and wrong")
    assert len(attempts._wrong) == 1000
