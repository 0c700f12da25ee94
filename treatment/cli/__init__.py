"""Commands. Results go to standard output, talk and progress to standard error.

Exit status: 0 done, 1 the scene has errors, 2 wrong usage. A command a file; heavy imports happen inside the
commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import os
import sys

import typer

from treatment.cli.bass import bass as bass_command
from treatment.cli.check import check as check_command
from treatment.cli.compare import compare as compare_command
from treatment.cli.materials import materials as materials_command
from treatment.cli.measure import measure as measure_command
from treatment.cli.new import new as new_command
from treatment.cli.plan import plan as plan_command
from treatment.cli.predict import predict as predict_command
from treatment.cli.talk import fail
from treatment.cli.view import view as view_command
from treatment.errors import TreatmentError

app = typer.Typer(
    name="treatment",
    help="Plan the acoustic treatment of a small home cinema: a room file in, a hanging plan out.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,  # plain help answers twice as fast
    pretty_exceptions_enable=False,
)
for _command in (
    new_command,
    check_command,
    predict_command,
    plan_command,
    compare_command,
    materials_command,
    bass_command,
    measure_command,
    view_command,
):
    app.command()(_command)


def main() -> None:
    """Run the command line; every error that a user can cause becomes one sentence and a status."""
    try:
        app(standalone_mode=True)
    except TreatmentError as error:
        try:
            fail(error)
        except typer.Exit as stop:
            sys.exit(stop.exit_code)
    except KeyboardInterrupt:
        typer.echo("stopped", err=True)
        sys.exit(130)
    except BrokenPipeError:
        # The reader (head, less) has seen enough.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
