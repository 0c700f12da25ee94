"""Commands. Results go to standard output, talk and progress to standard error.

Exit status: 0 done, 1 the scene has errors, 2 wrong usage. Heavy imports happen inside the commands, so
that ``--help`` answers at once.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from treatment.errors import Finding, PlanError, SceneError, TreatmentError

if TYPE_CHECKING:
    from treatment.planning.plan import Placement
    from treatment.scene.model import Scene

app = typer.Typer(
    name="treatment",
    help="Plan the acoustic treatment of a small home cinema: a room file in, a hanging plan out.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,  # plain help answers twice as fast
    pretty_exceptions_enable=False,
)

SceneArgument = Annotated[
    str, typer.Argument(metavar="SCENE", help="A room file (TOML), or the name of a shipped example.")
]
RaysOption = Annotated[
    int, typer.Option("--rays", min=0, metavar="N", help="Check the reverberation with up to N traced rays.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]


def _say(text: str) -> None:
    """Talk goes to standard error."""
    typer.echo(f"  {text}", err=True)


def _console(*, error: bool = False) -> Any:
    from rich.console import Console

    stream = sys.stderr if error else sys.stdout
    # A file or a pipe gets wide lines rather than cut tables.
    return Console(stderr=error, highlight=False, width=None if stream.isatty() else 140)


@contextmanager
def _progress(words: str) -> Iterator[Callable[[float], None]]:
    """A bar on standard error."""
    from rich.progress import Progress

    with Progress(console=_console(error=True), transient=True) as bar:
        task = bar.add_task(words, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def _print_json(document: Any) -> None:
    typer.echo(json.dumps(document, indent=1, allow_nan=False, ensure_ascii=False))


def _fail(error: TreatmentError) -> NoReturn:
    """Say what is wrong; exit status 1."""
    from treatment.present.console import print_findings

    console = _console(error=True)
    if isinstance(error, SceneError) and error.findings:
        print_findings(console, error.findings)
    else:
        finding = Finding("stopped", "error", error.where, error.message, error.hint)
        print_findings(console, [finding])
    raise typer.Exit(1)


def _load(text: str) -> tuple[Scene, tuple[Finding, ...]]:
    from treatment.scene.load import load_scene, resolve_scene

    return load_scene(resolve_scene(text))


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The room file to write.")],
    title: Annotated[str | None, typer.Option(help="Name of the room.")] = None,
    shape: Annotated[str | None, typer.Option(help="box, plan (L-shaped) or attic.")] = None,
    units: Annotated[str | None, typer.Option(help="Unit of plain numbers: m, cm, mm, ft, in.")] = None,
    length: Annotated[str | None, typer.Option(help="Front wall to back wall.")] = None,
    width: Annotated[str | None, typer.Option(help="Left wall to right wall.")] = None,
    height: Annotated[str | None, typer.Option(help="Floor to ceiling, or to the flat strip.")] = None,
    missing_length: Annotated[str | None, typer.Option(help="Of the corner that an L lacks.")] = None,
    missing_width: Annotated[str | None, typer.Option(help="Of the corner that an L lacks.")] = None,
    knee: Annotated[str | None, typer.Option(help="Height of an attic's knee walls.")] = None,
    pitch: Annotated[float | None, typer.Option(help="Pitch of an attic's slopes, degrees.")] = None,
    rows: Annotated[int | None, typer.Option(help="Rows of seats.")] = None,
    seats: Annotated[int | None, typer.Option(help="Seats in each row.")] = None,
    layout: Annotated[str | None, typer.Option(help="2.0, 5.1, 7.1, 5.1.4 or 7.1.4.")] = None,
    budget: Annotated[float | None, typer.Option(help="What may be spent; 0 for no limit.")] = None,
    currency: Annotated[str | None, typer.Option(help="Any label.")] = None,
    ask: Annotated[bool, typer.Option(help="Ask for what is not given (on a terminal).")] = True,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
) -> None:
    """Write a commented starter room file: loudspeakers placed by ITU-R BS.2051, seats proposed."""
    from treatment.planning.starter import StarterOptions, starter_scene
    from treatment.units import parse_length

    if file.exists() and not force:
        raise PlanError(f"'{file}' exists", where="FILE", hint="name another file, or use --force")
    given = {k: v for k, v in locals().items() if k in StarterOptions.__dataclass_fields__ and v is not None}
    defaults = StarterOptions()
    if ask and sys.stdin.isatty():
        given |= _asked(given, defaults)
    unit = str(given.get("units", defaults.units))
    lengths = ("length", "width", "height", "missing_length", "missing_width", "knee")
    values: dict[str, Any] = {k: parse_length(v, unit) if k in lengths else v for k, v in given.items()}
    if not values.get("budget"):
        values["budget"] = None
    text = starter_scene(StarterOptions(**values))
    _write(file, text.encode("utf-8"), "FILE")
    _say(f"next: treatment check {file}")


def _asked(given: dict[str, Any], defaults: Any) -> dict[str, Any]:
    """Ask for the few things that matter, those that are not given."""
    from treatment.units import format_length

    answers: dict[str, Any] = {}

    def ask(key: str, words: str, default: Any) -> None:
        if key not in given:
            answers[key] = typer.prompt(words, default=default, err=True)

    ask("title", "Name of the room", defaults.title)
    ask("units", "Unit of plain numbers (m, cm, mm, ft, in)", defaults.units)
    unit = str({**given, **answers}["units"])
    ask("shape", "Shape (box, plan for an L, attic)", defaults.shape)
    shape = {**given, **answers}["shape"]
    ask("length", "Length, front wall to back wall", format_length(defaults.length, unit))
    ask("width", "Width, left wall to right wall", format_length(defaults.width, unit))
    ask("height", "Height", format_length(defaults.height, unit))
    if shape == "plan":
        ask("missing_length", "Length of the missing corner", format_length(defaults.missing_length, unit))
        ask("missing_width", "Width of the missing corner", format_length(defaults.missing_width, unit))
    if shape == "attic":
        ask("knee", "Height of the knee walls", format_length(defaults.knee, unit))
        ask("pitch", "Pitch of the slopes in degrees", defaults.pitch)
    ask("rows", "Rows of seats", defaults.rows)
    ask("seats", "Seats in each row", defaults.seats)
    ask("layout", "Loudspeakers (2.0, 5.1, 7.1, 5.1.4, 7.1.4)", defaults.layout)
    ask("budget", "Budget, 0 for no limit", 450.0)
    ask("currency", "Currency", defaults.currency)
    return answers


@app.command()
def check(scene: SceneArgument, as_json: JsonOption = False) -> None:
    """Say everything that is wrong with a room file, all at once."""
    from treatment.present.console import print_findings
    from treatment.present.documents import finding_documents

    try:
        _, findings = _load(scene)
        status = 0
    except SceneError as error:
        findings = error.findings or (Finding("stopped", "error", error.where, error.message, error.hint),)
        status = 1
    if as_json:
        _print_json({"scene": scene, "findings": finding_documents(findings)})
    else:
        console = _console()
        print_findings(console, findings)
        counts = {s: sum(f.severity == s for f in findings) for s in ("error", "warning", "note")}
        console.print(", ".join(f"{n} {s}{'s' * (n != 1)}" for s, n in counts.items()))
    raise typer.Exit(status)


@app.command()
def predict(
    scene: SceneArgument,
    as_json: JsonOption = False,
    order: Annotated[int, typer.Option(min=1, max=3, help="Highest number of reflections.")] = 2,
    rays: RaysOption = 0,
) -> None:
    """Predict the room as it is: arrivals at the seats, and reverberation."""
    from treatment.planning.evaluate import evaluate
    from treatment.present.documents import predict_document

    room, findings = _load(scene)
    result = evaluate(room, order=order)
    if rays:
        from treatment.planning.trace import trace_scene, with_rays

        with _progress("tracing rays") as step:
            result = with_rays(result, trace_scene(room, (), rays, progress=step))
    if as_json:
        _print_json(predict_document(result, findings))
        return
    from treatment.present.console import print_prediction

    print_prediction(_console(), result, findings)


@app.command()
def plan(
    scene: SceneArgument,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the plan.")],
    force: Annotated[bool, typer.Option("--force", help="Move a foreign folder of that name aside.")] = False,
    pictures: Annotated[bool, typer.Option(help="Render room.png (needs OpenGL).")] = True,
    as_json: JsonOption = False,
    start: Annotated[
        Path | None,
        typer.Option("--from", metavar="DIR", help="An earlier plan, to be changed as little as it can."),
    ] = None,
    rays: RaysOption = 0,
    prices: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Prices of your own (CSV: item, price, unit, date).")
    ] = None,
    lock: Annotated[
        str, typer.Option(metavar="IDS", help="Panels of --from that stay: 'P1,P4', or 'all'.")
    ] = "",
) -> None:
    """Plan where panels go: before and after, lists, drawings, report, pictures."""
    from treatment.planning.bill import priced_builds
    from treatment.planning.make import Options, make_plan
    from treatment.planning.prices import read_prices
    from treatment.present.console import print_plan
    from treatment.present.documents import plan_document
    from treatment.present.folder import check_folder, write_folder

    check_folder(out, force=force)
    room, findings = _load(scene)
    keep, earlier = _earlier(start, lock, room)
    own = None if prices is None else read_prices(prices)
    if own is not None:
        room = replace(room, builds=priced_builds(room.builds, own))
    made = make_plan(room, _say, keep=keep, earlier=earlier, options=Options(rays=rays, prices=own))
    for note in write_folder(made, out, findings, force=force, pictures=pictures, say=_say):
        _say(note)
    if as_json:
        _print_json(plan_document(made, findings))
    else:
        print_plan(_console(), made)
    _say(f"written to {out}: open {out / 'report.html'}")


def _earlier(
    start: Path | None, lock: str, room: Scene
) -> tuple[tuple[Placement, ...], tuple[Placement, ...]]:
    """Locked and other panels of an earlier plan."""
    if start is None:
        if lock:
            raise typer.BadParameter("it needs --from", param_hint="--lock")
        return (), ()
    from treatment.present.reopen import read_placements

    placements = read_placements(room, start)
    wanted = {w.strip() for w in lock.split(",") if w.strip()}
    unknown = wanted - {p.id for p in placements} - {"all"}
    if unknown:
        raise typer.BadParameter(f"the plan has no panel {', '.join(sorted(unknown))}", param_hint="--lock")
    locked = tuple(p for p in placements if "all" in wanted or p.id in wanted)
    return locked, tuple(p for p in placements if p not in locked)


@app.command()
def compare(
    scene: Annotated[
        str | None,
        typer.Argument(metavar="[SCENE]", help="A room file: builds are sorted by what it lacks most."),
    ] = None,
    as_json: JsonOption = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print a table with commas.")] = False,
    chart: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also draw the builds by band: a .svg or .png file.")
    ] = None,
    edge_effect: Annotated[
        bool,
        typer.Option("--edge-effect", help="Add what small panels absorb over their edges (an estimate)."),
    ] = False,
) -> None:
    """Compare panel builds by band, rating and cost, each with its doubt."""
    from treatment.materials.builds import load_builds
    from treatment.materials.library import load_library
    from treatment.planning.comparison import compare_builds
    from treatment.present.compare import compare_csv, compare_document, print_comparison

    if chart is not None and chart.suffix.lower() not in (".svg", ".png"):
        raise typer.BadParameter(f"'{chart.name}' is neither .svg nor .png", param_hint="--chart")
    library = load_library()
    if scene is None:
        result = compare_builds(load_builds(library), library, edge_effect=edge_effect)
    else:
        from treatment.planning.evaluate import evaluate

        room, _ = _load(scene)
        currency = room.budget.currency if room.budget else ""
        result = compare_builds(
            room.builds, library, evaluate(room), edge_effect=edge_effect, currency=currency
        )
    if chart is not None:
        from treatment.present.compare_figure import compare_chart

        drawn = compare_chart(result, "png" if chart.suffix.lower() == ".png" else "svg")
        _write(chart, drawn.encode() if isinstance(drawn, str) else drawn)
    if as_json:
        _print_json(compare_document(result))
    elif as_csv:
        typer.echo(compare_csv(result), nl=False)
    else:
        print_comparison(_console(), result)


def _write(path: Path, content: bytes, where: str = "--chart") -> None:
    """Write one file whole, or say why not."""
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(content)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise PlanError(f"'{path}' cannot be written: {error.strerror or error}", where=where) from error
    _say(f"written to {path}")


@app.command()
def view(
    subject: Annotated[
        str, typer.Argument(metavar="SCENE_OR_PLAN", help="A room file, or a folder that `plan` wrote.")
    ],
    browser: Annotated[
        bool, typer.Option("--browser", help="In a web page on this machine, where it can be changed too.")
    ] = False,
    folder: Annotated[
        Path | None, typer.Option(metavar="DIR", help="With --browser: where the work is kept.")
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="With --browser: 0 takes a free one.")] = 0,
    show_page: Annotated[
        bool, typer.Option("--open/--no-open", help="With --browser: open the page.")
    ] = True,
) -> None:
    """Look at the room, and at a plan for it, in a window or in a web page."""
    plan_folder = Path(subject)
    if browser:
        try:
            from treatment.present.browser import serve
        except ImportError as error:
            hint = "install it with the extra: pip install 'treatment[browser]'"
            raise PlanError(
                f"the page needs the package '{error.name}'", where="--browser", hint=hint
            ) from error
        from treatment.scene.load import resolve_scene

        path = plan_folder if plan_folder.is_dir() else resolve_scene(subject)
        serve(path, folder or Path(f"{path.stem}-planner"), port, show_page, _say)
        return
    from treatment.planning.evaluate import evaluate
    from treatment.present.drawables import drawables, picture
    from treatment.present.viewer import show

    if plan_folder.is_dir():
        from treatment.present.reopen import reopen_plan

        shapes = picture(reopen_plan(plan_folder))
    else:
        room, _ = _load(subject)
        shapes = drawables(evaluate(room))
    show(shapes)


def main() -> None:
    """Run the command line; every error that a user can cause becomes one sentence and a status."""
    try:
        app(standalone_mode=True)
    except TreatmentError as error:
        try:
            _fail(error)
        except typer.Exit as stop:
            sys.exit(stop.exit_code)
    except KeyboardInterrupt:
        typer.echo("stopped", err=True)
        sys.exit(130)
    except BrokenPipeError:
        # The reader (head, less) has seen enough.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
