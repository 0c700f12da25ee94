"""Writes the folder of a plan: whole, or not at all."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import tomllib
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from treatment.errors import Finding, PlanError, TreatmentError
from treatment.planning.plan import Plan
from treatment.present import tables
from treatment.present.absorbed import absorption_table, enough_table
from treatment.present.checklist import checklist_html
from treatment.present.documents import PLAN_FORMAT, plan_document
from treatment.present.elevations import elevation_svg, treated_surfaces
from treatment.present.forms import Drawables
from treatment.present.further_tables import budgets_table, progress_table, zones_table
from treatment.present.money_curve import plan_charts
from treatment.present.panel_drawing import kinds_of, panel_svg, stock_of
from treatment.present.traced_tables import decays_table

#: Copy of the scene file inside the folder.
SCENE_COPY = "scene.toml"
#: Copy of the folder of data sheets that it may name.
DATA_SHEETS = "data-sheets"
#: Copy of the file of prices that it may name.
PRICES = "scene-prices.csv"
_OURS = (
    SCENE_COPY,
    DATA_SHEETS,
    PRICES,
    "plan.json",
    "checklist.html",
    "report.html",
    "report.pdf",
    "room.html",
    "room.png",
)


def check_folder(folder: Path, *, force: bool = False) -> None:
    """Refuse a folder that this program may not write, before any work is done.

    Parameters
    ----------
    folder : Path
        Where the plan shall go.
    force : bool
        Whether a foreign folder may be moved aside.

    Raises
    ------
    PlanError
        When it exists and was not written by this program, or cannot be written.
    """
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise PlanError(f"'{folder}' is not a folder", where="--out", hint="name a new folder")
    parent = folder.resolve().parent
    if not parent.is_dir():
        raise PlanError(
            f"'{parent}' does not exist", where="--out", hint="make it first, or name another place"
        )
    if not os.access(parent, os.W_OK):
        raise PlanError(f"'{parent}' cannot be written", where="--out", hint="name another place")
    if folder.is_dir() and any(folder.iterdir()) and not written_by_us(folder) and not force:
        raise PlanError(
            f"'{folder}' exists and this program did not write it",
            where="--out",
            hint="name a new folder, or use --force: the existing one is then moved aside, not deleted",
        )


def written_by_us(folder: Path) -> bool:
    """Tell whether a folder holds a plan that this program wrote.

    Parameters
    ----------
    folder : Path
        Any folder.

    Returns
    -------
    bool
        True when its plan.json says so.
    """
    try:
        document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(document, dict) and document.get("format") == PLAN_FORMAT


def write_folder(
    plan: Plan,
    folder: Path,
    findings: Sequence[Finding] = (),
    *,
    force: bool = False,
    pictures: bool = True,
    say: Callable[[str], None] = lambda _: None,
) -> tuple[str, ...]:
    """Write all files of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : Path
        Where; made when it does not exist.
    findings : sequence of Finding
        Those of the scene file.
    force : bool
        Whether a foreign folder may be moved aside.
    pictures : bool
        Whether to render room.png, which needs OpenGL, and report.pdf, where WeasyPrint is installed.
    say : callable
        Told what is being done.

    Returns
    -------
    tuple of str
        What was left out, and why.

    Raises
    ------
    PlanError
        When the folder is refused or cannot be written; nothing is changed then.
    """
    check_folder(folder, force=force)
    target = folder.resolve()
    work = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    try:
        notes = _fill(plan, work, findings, pictures, say)
        work.chmod(0o755)
        _put_in_place(work, target)
    except OSError as error:
        raise PlanError(
            f"the plan could not be written: {error.strerror or error}", where=str(folder)
        ) from error
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return notes


def _fill(
    plan: Plan, work: Path, findings: Sequence[Finding], pictures: bool, say: Callable[[str], None]
) -> tuple[str, ...]:
    """Write every file into a folder of work."""
    from treatment.present.double_bounces import double_bounces
    from treatment.present.drawables import drawables, picture
    from treatment.present.pdf import pdf_possible, report_pdf
    from treatment.present.report import report_html
    from treatment.present.room_page import room_html

    shapes = drawables(plan)
    with ThreadPoolExecutor(max_workers=1) as beside:
        # The picture is rendered by a process of its own, beside everything else.
        rendering = beside.submit(_render, picture(plan), work / "room.png") if pictures else None
        say("writing lists and drawings")
        charts = _write_lists(plan, work, findings)
        (work / "room.html").write_text(room_html(shapes, double_bounces(plan)), encoding="utf-8")
        if rendering:
            say("rendering the room")
        image, note = rendering.result() if rendering else (None, _no_pictures())
    say("writing the report")
    notes = (note,) if note else ()
    report = report_html(plan, picture=image, notes=notes, charts=charts)
    (work / "report.html").write_text(report, encoding="utf-8")
    if pictures and pdf_possible():
        say("writing report.pdf")
        try:
            # Charts as pictures: the PDF's maker takes half a minute over the outlines of their letters.
            printed = report_html(plan, picture=image, notes=notes, charts=plan_charts(plan, "png"))
            (work / "report.pdf").write_bytes(report_pdf(printed))
        except TreatmentError as error:
            notes = (*notes, f"report.pdf was left out: {error}")
    return notes


def _no_pictures() -> str:
    from treatment.present.pdf import pdf_possible

    left_out = "room.png and report.pdf were" if pdf_possible() else "room.png was"
    return f"{left_out} left out: --no-pictures"


def _render(shapes: Drawables, path: Path) -> tuple[bytes | None, str]:
    """Render the room: the picture, or the reason why there is none."""
    from treatment.present.viewer import render_png

    try:
        render_png(shapes, path)
    except TreatmentError as error:
        return None, f"room.png was left out: {error}"
    return path.read_bytes(), ""


def _write_lists(plan: Plan, work: Path, findings: Sequence[Finding]) -> dict[str, str]:
    """Write the plan, its tables and its drawings; the charts are needed again in the report."""

    def text(name: str, content: str) -> None:
        (work / name).write_text(content, encoding="utf-8")

    if plan.scene.path is not None:
        # The room as it was read: the folder can be opened again, whatever becomes of the original.
        _copy_scene(plan.scene.path, work)
    text("plan.json", json.dumps(plan_document(plan, findings), indent=1, allow_nan=False))
    for name, frame in (
        ("placements", tables.placements_table(plan)),
        ("arrivals", tables.arrivals_table(plan.before, plan.after)),
        ("reverberation", tables.reverberation_table(plan.before, plan.after)),
        ("shopping", tables.shopping_table(plan)),
        ("cuts", tables.cuts_table(plan)),
        ("stock", tables.stock_table(plan)),
        ("progress", progress_table(plan)),
        ("zones", zones_table(plan)),
        ("absorption", absorption_table(plan.before, plan.after)),
        ("enough", enough_table(plan)),
    ):
        frame.to_csv(work / f"{name}.csv", index=False, encoding="utf-8")
    if plan.after.traced is not None:
        decays = decays_table(plan.before, plan.after)
        decays.to_csv(work / "decays.csv", index=False, encoding="utf-8")
    for index in treated_surfaces(plan):
        text(f"elevation-{_file_name(plan.scene.surfaces[index].name)}.svg", elevation_svg(plan, index))
    for kind in kinds_of(plan):
        drawing = panel_svg(kind, stock_of(plan), units=plan.scene.units)
        text(f"panel-{_file_name(kind.name)}.svg", drawing)
    charts = {name: str(chart) for name, chart in plan_charts(plan).items()}
    if plan.budgets:
        budgets_table(plan).to_csv(work / "budgets.csv", index=False, encoding="utf-8")
    text("checklist.html", checklist_html(plan))
    for name, chart in charts.items():
        text(f"{name}.svg", chart)
    return charts


def _copy_scene(path: Path, work: Path) -> None:
    """Copy the scene file, and the mesh, prices and data sheets beside it that it may name."""
    text = path.read_text(encoding="utf-8-sig")
    room = tomllib.loads(text).get("room", {})
    named = room.get("file") if isinstance(room, dict) else None
    if isinstance(named, str) and room.get("shape") == "mesh":
        mesh = path.parent / named
        shutil.copyfile(mesh, work / mesh.name)
        text = text.replace(json.dumps(named), json.dumps(mesh.name)).replace(f"'{named}'", f"'{mesh.name}'")
    stock = tomllib.loads(text).get("stock", {})
    prices = stock.get("prices") if isinstance(stock, dict) else None
    if isinstance(prices, str):
        shutil.copyfile(path.parent / prices, work / PRICES)
        text = text.replace(json.dumps(prices), json.dumps(PRICES)).replace(f"'{prices}'", f"'{PRICES}'")
    sheets = tomllib.loads(text).get("data_sheets")
    if isinstance(sheets, str):
        shutil.copytree(path.parent / sheets, work / DATA_SHEETS)
        text = text.replace(json.dumps(sheets), json.dumps(DATA_SHEETS)).replace(
            f"'{sheets}'", f"'{DATA_SHEETS}'"
        )
    (work / SCENE_COPY).write_text(text, encoding="utf-8")


def _file_name(name: str) -> str:
    """Surface name as part of a file name: letters, digits and dashes."""
    safe = "".join(c if c.isalnum() and c.isascii() else "-" for c in name.lower())
    return "-".join(part for part in safe.split("-") if part) or "surface"


def _is_ours(path: Path) -> bool:
    listed = path.name in _OURS or (
        path.suffix == ".csv"
        and path.stem
        in {
            "placements",
            "arrivals",
            "reverberation",
            "shopping",
            "cuts",
            "stock",
            "progress",
            "zones",
            "absorption",
            "enough",
            "decays",
            "budgets",
        }
    )
    return listed or (
        path.suffix == ".svg"
        and path.stem.split("-")[0]
        in {"elevation", "panel", "reverberation", "arrivals", "progress", "absorption", "budgets"}
    )


def _put_in_place(work: Path, target: Path) -> None:
    """Swap the finished folder in; keep whatever else the old one held."""
    if not target.exists():
        work.rename(target)
        return
    aside = _free_name(target)
    if written_by_us(target) or not any(target.iterdir()):
        target.rename(aside)
        work.rename(target)
        for path in aside.iterdir():
            if not _is_ours(path):
                path.rename(target / path.name)
        shutil.rmtree(aside)
        return
    target.rename(aside)
    work.rename(target)


def _free_name(target: Path) -> Path:
    number = 1
    while (aside := target.with_name(f"{target.name}.old-{number}")).exists():
        number += 1
    return aside
