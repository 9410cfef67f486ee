"""Who may see the page: this machine's own users, and whoever a proxy or Streamlit's log-in let in."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from streamlit import config
from streamlit.runtime.secrets import secrets_singleton
from streamlit.testing.v1 import AppTest

from formcheck.storage import Store, file_identity
from formcheck.storage.data_folder import default_store
from formcheck.storage.file_identity import accept_store, watch_store
from formcheck.web import access
from formcheck.web.access import is_exposed, is_own

OWN = ("127.0.0.1", "localhost")
OPTIONS = ("server.address", "server.allowedHosts", "secrets.files")
HERE = {"Host": "localhost:8501"}


@pytest.mark.parametrize("name", ["127.0.0.1", "127.8.9.1", "localhost", "LOCALHOST:8501", "::1", "[::1]:8501"])
def test_own_names(name: str) -> None:
    """Loopback: RFC 1122, 3.2.1.3 (127.0.0.0/8), RFC 4291, 2.5.3 (::1), RFC 6761, 6.3 (localhost)."""
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
    assert not is_exposed("127.0.0.1", OWN, {})
    assert not is_exposed("127.0.0.1", OWN, HERE)
    assert is_exposed("0.0.0.0", OWN, HERE)
    assert is_exposed(None, OWN, {})  # an unset address listens everywhere
    assert is_exposed("", OWN, {})
    assert is_exposed("127.0.0.1", (*OWN, "gym.example"), {})  # a proxy passes that name on
    assert is_exposed("127.0.0.1", (), {})
    assert is_exposed("127.0.0.1", OWN, {"Host": "gym.example"})


@pytest.mark.parametrize("header", ["X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP", "Forwarded", "Via"])
def test_a_proxy_nobody_spoke_of_counts_as_exposed(header: str) -> None:
    """Forwarded: RFC 7239; Via: RFC 9110, 7.6.3; the others are what proxies commonly add."""
    assert is_exposed("127.0.0.1", OWN, {**HERE, header: "198.51.100.7"})


@pytest.fixture
def page(root: Path) -> AppTest:
    return AppTest.from_file(str(root / "app.py"), default_timeout=60)


def shows_nothing_but_a_sentence(page: AppTest) -> str:
    assert not page.exception
    assert not page.get("file_uploader")
    assert not [item for item in page.button if item.label != "Log in"]
    (error,) = page.error
    return str(error.value).replace("\\", "")  # what would act as markup is escaped


@pytest.fixture
def option() -> Iterator[Callable[[str, object], None]]:
    before = {name: config.get_option(name) for name in OPTIONS}
    yield config.set_option
    for name, value in before.items():
        config.set_option(name, value)


def test_on_this_machine_alone_nobody_is_asked(page: AppTest) -> None:
    page.run()
    assert not page.exception
    assert not page.error
    assert page.get("file_uploader")


@pytest.mark.parametrize(("name", "value"), [("server.address", "0.0.0.0"), ("server.allowedHosts", ["gym.example"])])
def test_exposed_and_unguarded_it_shows_one_sentence(
    page: AppTest, option: Callable[[str, object], None], name: str, value: object
) -> None:
    option(name, value)
    assert "docs/safety.md" in shows_nothing_but_a_sentence(page.run())


@pytest.mark.parametrize(("value", "opens"), [("1", True), ("0", False), ("", False), ("yes", False)])
def test_a_proxy_that_was_spoken_of_opens_it(
    page: AppTest,
    option: Callable[[str, object], None],
    monkeypatch: pytest.MonkeyPatch,
    value: str,
    opens: bool,
) -> None:
    monkeypatch.setenv("FORMCHECK_BEHIND_PROXY", value)
    option("server.allowedHosts", ["localhost", "gym.example"])
    page.run()
    assert not page.exception
    assert bool(page.get("file_uploader")) == opens


@pytest.fixture
def log_in(monkeypatch: pytest.MonkeyPatch) -> None:
    """Streamlit's log-in configured, as its documentation has it: a section ``auth`` in the secrets."""
    secrets = {
        "auth": {
            "redirect_uri": "http://localhost:8501/oauth2callback",
            "cookie_secret": "invented for this test, thirty-two signs",
            "client_id": "invented",
            "client_secret": "invented",
            "server_metadata_url": "http://localhost:1/.well-known/openid-configuration",
        }
    }
    monkeypatch.setattr(secrets_singleton, "_secrets", secrets)
    monkeypatch.setattr(secrets_singleton, "load_if_toml_exists", lambda: True)


@pytest.mark.parametrize("address", ["127.0.0.1", "0.0.0.0"])
def test_with_log_in_nobody_is_let_in_before(
    page: AppTest, option: Callable[[str, object], None], log_in: None, address: str
) -> None:
    option("server.address", address)
    page.secrets["auth"] = secrets_singleton["auth"]
    page.run()
    assert not page.exception
    assert [item.label for item in page.button] == ["Log in"]
    assert not page.get("file_uploader")


def test_with_log_in_whoever_is_logged_in_gets_the_page(
    page: AppTest, option: Callable[[str, object], None], log_in: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    option("server.address", "0.0.0.0")
    page.secrets["auth"] = secrets_singleton["auth"]
    monkeypatch.setattr(access.st, "user", type("User", (), {"is_logged_in": True})())
    page.run()
    assert not page.exception
    assert page.get("file_uploader")


@pytest.mark.parametrize("value", ["0", "1"])
def test_secrets_that_cannot_be_read_open_nothing(
    page: AppTest, option: Callable[[str, object], None], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, value: str
) -> None:
    monkeypatch.setenv("FORMCHECK_BEHIND_PROXY", value)
    broken = tmp_path / "secrets.toml"
    broken.write_text("[auth\nclient_id = ")
    option("secrets.files", [str(broken)])
    assert "secrets" in shows_nothing_but_a_sentence(page.run())


def test_a_password_of_an_earlier_formcheck_is_told(page: AppTest, formcheck_home: Path) -> None:
    file = formcheck_home / "page-password"
    file.write_text("scrypt 16 8 1 00 00\n")
    assert str(file) in shows_nothing_but_a_sentence(page.run())
    file.unlink()
    page.run()
    assert page.get("file_uploader")


def test_a_password_of_an_earlier_formcheck_is_told_at_the_start(
    formcheck_home: Path, caplog: pytest.LogCaptureFixture
) -> None:
    access.warn_at_start()
    assert not caplog.records
    (formcheck_home / "page-password").touch()
    access.warn_at_start()
    (record,) = caplog.records
    assert "page-password" in record.getMessage()


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch, formcheck_home: Path) -> Iterator[None]:
    monkeypatch.setattr(file_identity, "_to_watch", set())
    monkeypatch.setattr(file_identity, "_watched", {})
    watch_store(default_store())
    yield
    for path in list(file_identity._watched):
        accept_store(path)


@pytest.mark.parametrize("replaced", [False, True])
def test_a_store_that_is_gone_is_told_and_not_begun_anew(
    page: AppTest, watched: None, formcheck_home: Path, replaced: bool
) -> None:
    page.run()
    assert page.get("file_uploader")
    store = Path(default_store())
    for file in formcheck_home.glob("reviews.sqlite*"):
        file.unlink()
    if replaced:
        with Store.open(formcheck_home / "other.sqlite"):
            pass
        (formcheck_home / "other.sqlite").rename(store)
    page.run()
    assert not page.exception
    assert "replaced" in page.error[0].value if replaced else "deleted" in page.error[0].value
    assert not page.get("file_uploader")
    assert store.exists() == replaced
    page.run()
    assert store.exists() == replaced
    (again,) = page.button
    again.click().run()
    assert not page.exception
    assert not page.error
    assert page.get("file_uploader")
