"""The numbers of a thing that was clicked, in words and a small table. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.planning.caveats import MARGINAL
from treatment.planning.extent import rank_surfaces
from treatment.planning.plan import Evaluation
from treatment.planning.wall_zones import WallZone
from treatment.present.forms import Dot, Drawables, Face
from treatment.present.native.paths import shown_level
from treatment.present.native.state import LOUDEST
from treatment.present.wording import listed, surface_title, surface_words
from treatment.scene.model import Scene
from treatment.units import format_length


@dataclass(frozen=True)
class Reading:
    """What the card shows.

    Parameters
    ----------
    title : str
        The thing.
    lines : tuple of str
        What there is to say.
    table : tuple of (str, tuple of str)
        Rows: name, and a value for each octave.
    """

    title: str
    lines: tuple[str, ...]
    table: tuple[tuple[str, tuple[str, ...]], ...] = ()


def path_key(evaluation: Evaluation, arrival: int) -> str:
    """Name of a path that holds for every step: loudspeaker, seat and surfaces by number.

    Parameters
    ----------
    evaluation : Evaluation
        Of any step.
    arrival : int
        Index of the arrival.

    Returns
    -------
    str
        ``0/1/2,5``.
    """
    a = evaluation.arrivals
    route = ",".join(str(int(s)) for s in a.surfaces[arrival] if s >= 0)
    return f"{a.source[arrival]}/{a.seat[arrival]}/{route}"


def arrival_of(evaluation: Evaluation, key: str) -> int | None:
    """Arrival of a name.

    Parameters
    ----------
    evaluation : Evaluation
        Of any step.
    key : str
        From `path_key`.

    Returns
    -------
    int or None
        None where there is no such path.
    """
    a = evaluation.arrivals
    source, seat, route = key.split("/")
    surfaces = [int(s) for s in route.split(",") if s]
    wanted = np.full(a.surfaces.shape[1], -1)
    wanted[: len(surfaces)] = surfaces[: len(wanted)]
    same = (a.source == int(source)) & (a.seat == int(seat)) & np.all(a.surfaces == wanted, axis=1)
    found = np.flatnonzero(same)
    return int(found[0]) if len(found) else None


def read_thing(
    picked: tuple[str, ...],
    shapes: Drawables,
    scene: Scene,
    now: Evaluation | None,
    before: Evaluation | None,
    zones: Sequence[WallZone] = (),
    band: int = LOUDEST,
) -> Reading | None:
    """Read a thing.

    Parameters
    ----------
    picked : tuple of str
        Kind and name: a group of `forms`, ``path`` with a key, or ``zone`` with numbers of zones.
    shapes : Drawables
        Everything that can be clicked, with its details.
    scene : Scene
        The room.
    now, before : Evaluation or None
        Of the step that is shown, and of the room as it is; None while they are being worked out.
    zones : sequence of WallZone
        All zones, in the order that ``zone`` counts in.
    band : int
        The chosen band.

    Returns
    -------
    Reading or None
        None where nothing of that name is there any more.
    """
    if len(picked) != 2:
        return None
    kind, name = picked
    if kind == "path":
        return _path(name, now, before, band)
    if kind == "zone":
        return _zone(name, scene, zones)
    things: list[Face | Dot] = [*shapes.faces, *shapes.dots]
    found = [x for x in things if x.group == kind and x.name == name and x.detail]
    if not found:
        return None
    title, *lines = found[0].detail
    return Reading(title, (*lines, *_more(kind, name, scene, now)), _absorption(kind, name, scene, now))


def _numbers(values: Array, form: str) -> tuple[str, ...]:
    return tuple(form.format(v).replace("-", "\N{MINUS SIGN}") for v in values)


def _absorption(
    kind: str, name: str, scene: Scene, now: Evaluation | None
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    if now is None:
        return ()
    names = {name}
    if kind == "room":
        names = {s.name for s in scene.surfaces if not s.obstacle and surface_title(s) == name}
    wanted = {"room": "surface", "obstacle": "surface", "opening": "opening", "panel": "panel"}.get(kind)
    for row in now.rows:
        if row.kind == wanted and row.name in names:
            return (
                ("absorbs", _numbers(row.absorption, "{:.2f}")),
                ("give or take", _numbers(row.uncertainty, "{:.2f}")),
            )
    return ()


def _more(kind: str, name: str, scene: Scene, now: Evaluation | None) -> tuple[str, ...]:
    if now is None or kind != "seat":
        return ()
    seat = [s.name for s in scene.seats].index(name)
    a = now.arrivals
    mine = np.array([v == "treat" for v in a.verdict], dtype=bool) & (a.seat == seat)
    said = [f"{int(mine.sum())} early arrivals above the criterion"]
    ranking = rank_surfaces(now)[seat]
    if ranking.surfaces:
        named = [
            f"{_surface(scene, s)} ({level:.0f} dB)".replace("-", "\N{MINUS SIGN}")
            for s, level in zip(ranking.surfaces[:3], ranking.level_db[:3], strict=True)
        ]
        said.append(f"most early sound by {listed(named)}, all loudspeakers together, 1 to 8 kHz")
    return tuple(said)


def _surface(scene: Scene, name: str) -> str:
    found = [s for s in scene.surfaces if s.name == name]
    return surface_words(found[0]) if found else name


def _path(key: str, now: Evaluation | None, before: Evaluation | None, band: int) -> Reading | None:
    shown = now or before
    index = arrival_of(shown, key) if shown else None
    if shown is None or index is None:
        return None
    scene, a = shown.scene, shown.arrivals
    unit = scene.units
    source, seat = scene.loudspeakers[int(a.source[index])], scene.seats[int(a.seat[index])]
    by = f" by {listed([str(n) for n in a.names[index]])}" if a.order[index] else ", straight"
    lines = [
        f"{format_length(float(a.length[index]), unit)} long, {a.delay_ms[index]:.2f} ms late",
        _level_words(float(shown_level(a, band)[index]), band),
    ]
    if a.order[index]:
        lines.append(
            {
                "treat": "still early and strong"
                if shown.placements
                else "early and strong: the criterion would treat it",
                "note": "close to the criterion",
                "leave": "late or weak enough: leave it",
            }.get(a.verdict[index], a.verdict[index])
        )
    if a.clearance[index] < MARGINAL:
        lines.append(
            f"marginal: it passes an edge at {format_length(float(a.clearance[index]), unit)}; measure twice"
        )
    table = []
    was = arrival_of(before, key) if before else None
    if before is not None and was is not None and before is not shown:
        table.append(("as it is, dB", _numbers(before.arrivals.level_db[was], "{:.0f}")))
    table.append(("dB re direct" if not table else "now, dB", _numbers(a.level_db[index], "{:.0f}")))
    if a.order[index]:
        lines.append("Panels: right within about 1 dB from 500 Hz on, 2 dB for large fields; a guide below.")
    return Reading(f"{source.name} to {seat.name}{by}", tuple(lines), tuple(table))


def _level_words(level: float, band: int) -> str:
    where = "loudest octave, 1 to 8 kHz" if band == LOUDEST else bands.band_label(bands.NOMINAL_HZ[band])
    return f"{level:.1f} dB re direct ({where})".replace("-", "\N{MINUS SIGN}")


def _zone(name: str, scene: Scene, zones: Sequence[WallZone]) -> Reading | None:
    held = [zones[int(i)] for i in name.split(",") if int(i) < len(zones)]
    if not held:
        return None
    unit = scene.units
    surface = scene.surfaces[held[0].surface]
    lines = []
    for z in held[:5]:
        u0, v0, u1, v1 = z.outline.bounds
        lines.append(
            f"{scene.loudspeakers[z.source].name} to {scene.seats[z.seat].name}: "
            f"{format_length(u1 - u0, unit)} x {format_length(v1 - v0, unit)}, from {z.delay_ms:.1f} ms on"
        )
    if len(held) > 5:
        lines.append(f"and {len(held) - 5} more")
    reach = np.max([z.radius for z in held], axis=0)
    lines.append("Beyond its edge a panel should reach (first Fresnel zone):")
    per_cm = 2.54 if unit in ("ft", "in") else 1.0
    return Reading(
        f"Zone on the {surface_words(surface)}",
        tuple(lines),
        (("in" if per_cm > 1.0 else "cm", _numbers(100.0 * reach / per_cm, "{:.0f}")),),
    )
