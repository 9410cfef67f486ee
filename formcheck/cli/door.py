"""The page started from the command line, and who may come in."""

import os
import subprocess
import sys
from pathlib import Path

import click

from formcheck.capture.heaps import FOR_THE_PAGE
from formcheck.errors import UsageError

APP = Path(__file__).resolve().parents[2] / "app.py"
LOOPBACK = "127.0.0.1"


@click.command()
@click.option("--off", is_flag=True, help="Forget the password; the page then serves this machine only.")
def password(off: bool) -> None:
    """Set the password of a page that others can reach (asked for, never an argument)."""
    from formcheck.store.home import data_home
    from formcheck.store.password import clear_password, set_password

    if off:
        click.echo("The password is forgotten." if clear_password(data_home()) else "There was no password.")
        return
    given = click.prompt("Password, ten characters or more", hide_input=True, confirmation_prompt="Once more")
    click.echo(f"Kept, scrambled beyond reading (as a hash), in {set_password(data_home(), given)}.")


@click.command()
@click.option("--address", default=LOOPBACK, show_default=True, help="The network address the page answers on.")
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True, help="The port it answers on.")
@click.option("--name", "names", multiple=True, metavar="HOST", help="A host name it is called by, as behind a proxy.")
def serve(address: str, port: int, names: tuple[str, ...]) -> None:
    """Open the page to others, behind a proxy (docs/safety.md); needs a password set."""
    from formcheck.store.home import data_home
    from formcheck.store.password import kept_password

    if kept_password(data_home()) is None and (address != LOOPBACK or names):
        raise UsageError("A page that others can reach needs a password: set one first with: formcheck password.")
    if not APP.is_file():
        raise UsageError(f"The page's file {APP.name} is not beside the program: start it from a checkout.")
    known = [LOOPBACK, "localhost", *names, *([address] if address not in (LOOPBACK, "0.0.0.0", "::") else [])]
    options = {
        "server.address": address,
        "server.port": port,
        "server.headless": "true",
        "browser.gatherUsageStats": "false",
        "client.showErrorDetails": "none",
    }
    flags = [f"--{name}={value}" for name, value in options.items()]
    flags += [f"--server.allowedHosts={name}" for name in known]
    if address != LOOPBACK:
        click.echo("It speaks plain HTTP: put it behind a proxy that speaks HTTPS (docs/safety.md).", err=True)
    click.echo(f"formcheck is at http://{address}:{port}. Stop it with Ctrl-C.")
    command = [sys.executable, "-m", "formcheck.page.launcher", *flags]
    try:
        code = subprocess.run(command, cwd=APP.parent, env={**os.environ, **FOR_THE_PAGE}, check=False).returncode
    except KeyboardInterrupt:
        code = 0
    raise click.exceptions.Exit(code)
