"""The page started from the command line, for this machine or for those a proxy lets in."""

import os
import subprocess
import sys

import click

from formcheck.cli.group import cli
from formcheck.core.errors import UsageError
from formcheck.core.process_memory import PAGE_ENVIRONMENT

LOOPBACK = "127.0.0.1"
BEHIND_PROXY = "FORMCHECK_BEHIND_PROXY"


@cli.command("password", hidden=True, context_settings={"ignore_unknown_options": True})
@click.argument("words", nargs=-1)
def explain_password(**_words: tuple[str, ...]) -> None:
    """Explain what takes the place of the page's own password."""
    from formcheck.storage.data_folder import stored_password_sentence

    gone = "the page has no password any more: put a proxy that asks for one before it, as docs/safety.md tells"
    stored = stored_password_sentence()
    raise UsageError(f"{gone}." if stored is None else f"{gone}. {stored}")


@cli.command()
@click.option("--address", default=LOOPBACK, show_default=True, help="The network address the page answers on.")
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True, help="The port it answers on.")
@click.option("--name", "names", multiple=True, metavar="HOST", help="A host name it is reached by, as behind a proxy.")
@click.option("--behind-proxy", is_flag=True, help="It stands behind a proxy that asks for a log-in (docs/safety.md).")
def serve(address: str, port: int, names: tuple[str, ...], behind_proxy: bool) -> None:
    """Start the page.

    Other people may reach it only through a proxy that asks for a password (docs/safety.md).
    """
    from formcheck.storage.data_folder import stored_password_sentence

    if (sentence := stored_password_sentence()) is not None:
        click.echo(f"formcheck: {sentence}", err=True)
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
    if (address != LOOPBACK or names) and not behind_proxy:
        click.echo("It shows others nothing without --behind-proxy or log-in (docs/safety.md).", err=True)
    if address != LOOPBACK:
        click.echo("It speaks plain HTTP: put it behind a proxy that speaks HTTPS (docs/safety.md).", err=True)
    click.echo(f"formcheck is at http://{address}:{port}. Stop it with Ctrl-C.")
    command = [sys.executable, "-m", "formcheck.web.launcher", *flags]
    own = {BEHIND_PROXY: "1"} if behind_proxy else {}
    try:
        code = subprocess.run(command, env={**os.environ, **PAGE_ENVIRONMENT, **own}, check=False).returncode
    except KeyboardInterrupt:
        code = 0
    raise click.exceptions.Exit(code)
