"""What the commands say, and where: results to standard output, talk and progress to standard error.

Heavy imports happen inside, so that ``--help`` answers at once.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from treatment.errors import Finding, PlanError, SceneError, TreatmentError

if TYPE_CHECKING:
    from treatment.scene.model import Scene

SceneArgument = Annotated[
    str, typer.Argument(metavar="SCENE", help="A room file (TOML), or the name of a shipped example.")
]
RaysOption = Annotated[
    int, typer.Option("--rays", min=0, metavar="N", help="Check the reverberation with up to N traced rays.")
]
PrecisionOption = Annotated[
    float,
    typer.Option(
        "--precision",
        min=0.0,
        max=0.5,
        metavar="SHARE",
        help="Send rays until T30 is known that well at each seat (0.03 is 3 %); --rays is the most then.",
    ),
]
FullOption = Annotated[bool, typer.Option("--full", help="Print all of it, not one screen.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]


def say(text: str) -> None:
    """Talk goes to standard error."""
    typer.echo(f"  {text}", err=True)


def console_of(*, error: bool = False) -> Any:
    """Console on standard output, or on standard error."""
    from rich.console import Console

    stream = sys.stderr if error else sys.stdout
    # A file or a pipe gets wide lines rather than cut tables.
    return Console(stderr=error, highlight=False, width=None if stream.isatty() else 140)


def rays_asked(rays: int, precision: float) -> tuple[int, float]:
    """Rays at most and precision, where either may be left at 0.

    Returns
    -------
    tuple of (int, float)
        Rays at most, and the relative standard error of T30 at which to stop.
    """
    from treatment.planning.trace import MOST_RAYS, PRECISION

    if precision and not rays:
        return MOST_RAYS, precision
    return rays, precision or PRECISION


@contextmanager
def progress(words: str) -> Iterator[Callable[[float], None]]:
    """A bar on standard error."""
    from rich.progress import Progress

    with Progress(console=console_of(error=True), transient=True) as bar:
        task = bar.add_task(words, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def print_json(document: Any) -> None:
    """Print one JSON document."""
    typer.echo(json.dumps(document, indent=1, allow_nan=False, ensure_ascii=False))


def fail(error: TreatmentError) -> NoReturn:
    """Say what is wrong; exit status 1."""
    from treatment.present.console import print_findings

    console = console_of(error=True)
    if isinstance(error, SceneError) and error.findings:
        print_findings(console, error.findings)
    else:
        finding = Finding("stopped", "error", error.where, error.message, error.hint)
        print_findings(console, [finding])
    raise typer.Exit(1)


def load(text: str) -> tuple[Scene, tuple[Finding, ...]]:
    """Read a room file, or a shipped example of that name."""
    from treatment.scene.load import load_scene, resolve_scene

    return load_scene(resolve_scene(text))


def write_file(path: Path, content: bytes, where: str = "--chart") -> None:
    """Write one file whole, or say why not."""
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(content)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise PlanError(f"'{path}' cannot be written: {error.strerror or error}", where=where) from error
    say(f"written to {path}")
