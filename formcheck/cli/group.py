"""The group of all commands. When one cannot be done: one sentence, a fitting exit code, no traceback."""

import errno
import os
import sys
from pathlib import Path
from typing import Any

import click

import formcheck
from formcheck.core.errors import NOT_ENOUGH_MEMORY, FormcheckError, UsageError, is_memory_shortage
from formcheck.exercises import own_files

WRITE_ERRORS = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EACCES, errno.EPERM, errno.EIO}
"""What a disk that is full, read-only or failing says."""


SECTIONS = {
    "Review a set": ("review", "batch", "watch", "suggest"),
    "Before filming": ("exercises", "show", "cautions"),
    "What was reviewed": ("history", "compare", "excerpt", "correct", "renew", "rate", "agreement", "reference"),
    "Clients": ("client", "plan", "note", "assign", "progress", "limits"),
    "Page and store": ("serve", "demo", "backup", "restore"),
}
"""The commands by job, as the help lists them; one that is in none comes last."""

LEAST_BYTES = {"RLIMIT_AS": 1024**3, "RLIMIT_DATA": 512 * 1024**2}
"""What the user's limits must leave a process. With less, some libraries do not fail but wait for ever (OpenBLAS, seen
with 200 MiB)."""


def check_memory_limits() -> None:
    """Raise FormcheckError where limits such as those of ``ulimit -v`` leave too little to begin with."""
    try:
        import resource
    except ImportError:  # Windows
        return
    for name, least in LEAST_BYTES.items():
        allowed, _ = resource.getrlimit(getattr(resource, name))
        if allowed != resource.RLIM_INFINITY and allowed < least:
            raise FormcheckError(
                f"There is not enough memory: formcheck may take {allowed / 1024**2:.0f} MiB here, and needs at least "
                f"{least / 1024**2:.0f}; raise the limit (ulimit -v, ulimit -d)."
            )


class Sentence(click.ClickException):
    """One sentence on standard error; exit code 1, as for a clip that cannot be used."""

    def show(self, file: Any = None) -> None:
        """Print the sentence."""
        click.echo(f"formcheck: {self.message}", file=file or sys.stderr)


class BadUse(Sentence):
    """The call itself is wrong."""

    exit_code = 2


class Interrupted(Sentence):
    """Stopped by the user; 128 + SIGINT, as shells count."""

    exit_code = 130


class SentenceGroup(click.Group):
    """A group of commands whose errors are sentences; ``FORMCHECK_DEBUG=1`` shows where the others come from."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands by job."""
        listed = {name for names in SECTIONS.values() for name in names}
        others = tuple(name for name in self.list_commands(ctx) if name not in listed)
        for title, names in {**SECTIONS, "Others": others}.items():
            commands = [(name, self.get_command(ctx, name)) for name in names]
            rows = [(name, item.get_short_help_str(100)) for name, item in commands if item and not item.hidden]
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command and translate what it raises."""
        if hasattr(sys.stdout, "reconfigure"):
            # What a terminal cannot show, such as ± or a file name that is no text, becomes a question mark.
            sys.stdout.reconfigure(errors="replace")
        try:
            check_memory_limits()
            return super().invoke(ctx)
        except UsageError as error:
            raise BadUse(str(error)) from error
        except FormcheckError as error:
            raise Sentence(str(error)) from error
        except (click.ClickException, click.exceptions.Exit):
            raise
        except (KeyboardInterrupt, click.Abort) as error:
            raise Interrupted("stopped.") from error
        except Exception as error:
            gone = isinstance(error, OSError) and error.errno == errno.EPIPE
            if gone or os.environ.get("FORMCHECK_DEBUG"):
                raise
            if is_memory_shortage(error):
                raise Sentence(NOT_ENOUGH_MEMORY) from error
            if isinstance(error, OSError) and error.errno in WRITE_ERRORS:
                raise Sentence(f"a file could not be written: {error.strerror or error}.") from error
            kind = f"{type(error).__name__}: {' '.join(str(error).split())[:300]}"
            raise Sentence(f"this should not have happened ({kind}); set FORMCHECK_DEBUG=1 to see where.") from error


@click.group(cls=SentenceGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(formcheck.__version__, prog_name="formcheck", message="%(prog)s %(version)s")
@click.pass_context
def cli(context: click.Context) -> None:
    """Review a recorded strength-training set, rep by rep.

    formcheck measures joint angles, range of motion and tempo in a clip, each with its margin of error, and says
    what was met, what was not, and what cannot be told from this camera. It is advisory only and never a diagnosis.
    """
    own_files.use_folder(_find_own_exercises_folder)
    context.with_resource(own_files.forget_added_files())


def _find_own_exercises_folder() -> Path:
    from formcheck.storage.data_folder import own_exercises_folder

    return own_exercises_folder()
