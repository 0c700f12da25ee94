"""A room and its plan as plain coloured shapes and labels, for any painter. No toolkit is named here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely

from treatment.bands import Array, frozen
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.measures import area_words
from treatment.planning.kept import reach_of
from treatment.planning.plan import Evaluation, Placement, Plan
from treatment.present.corner_words import corner_faces, corner_name
from treatment.present.fate_words import verdict_words
from treatment.present.forms import Dot, Drawables, Face, Label, Line, block
from treatment.present.palette import (
    FLOOR,
    KEEP_OUT,
    LOUDSPEAKER,
    OBSTACLE,
    OPENING,
    PANEL,
    SCREEN,
    SEAT,
    SUBWOOFER,
    WALL,
    level_colour,
)
from treatment.present.tape import tape, tape_starts
from treatment.present.wording import lengths, loudest, surface_title
from treatment.scene.model import Scene
from treatment.scene.screen import screen_corners
from treatment.units import format_imperial

#: Thin things lie this far off their wall, so that they are not lost in it (m).
_LIFT = 0.004
_LOUDSPEAKER_SIZE = (0.22, 0.20, 0.34)
_SUBWOOFER_SIZE = (0.38, 0.38, 0.40)
_HEAD_RADIUS = 0.10
#: Body of someone who sits, below the ears: depth, width, height, and how far its middle lies lower (m).
_BODY_SIZE, _BODY_BELOW = (0.26, 0.44, 0.58), 0.45


def drawables(subject: Scene | Evaluation | Plan) -> Drawables:
    """Turn a room into shapes, with its panels and first-order paths where they are known.

    Parameters
    ----------
    subject : Scene, Evaluation or Plan
        A scene has no paths; an evaluation has those of its own; a plan has both.

    Returns
    -------
    Drawables
        Room surfaces, openings, keep-outs, obstacles, equipment, seats, panels, paths.
    """
    scene = subject if isinstance(subject, Scene) else subject.scene
    faces: list[Face] = []
    labels: list[Label] = []
    dots: list[Dot] = []
    # Panels that stand in the room are drawn as panels, not as sides of the room.
    drawn = {p.id for p in subject.placements if p.solid} if isinstance(subject, Evaluation) else set()
    write = _writer(scene)
    bare = replace(scene, surfaces=tuple(s for s in scene.surfaces if s.obstacle not in drawn))
    _room(bare, faces, labels, write)
    _screen(scene, faces, labels, write)
    _equipment(scene, faces, dots, labels, write)
    lines: list[Line] = []
    if isinstance(subject, Plan):
        _panels(scene, subject.placements, faces, labels, write)
        lines += _paths(subject.before, "path-before") + _paths(subject.after, "path-after")
    elif isinstance(subject, Evaluation):
        _panels(scene, subject.placements, faces, labels, write)
        lines += _paths(subject, "path-after" if subject.placements else "path-before")
    return Drawables(
        scene.title, tuple(faces), tuple(lines), tuple(dots), tuple(labels), scene.enclosure.bounds
    )


def room_shapes(
    scene: Scene, placements: Sequence[Placement], write: Callable[[float], str] | None = None
) -> Drawables:
    """Turn a room and panels into shapes, without paths.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.
    write : callable, optional
        Writes a length in m; by default in both systems, the scene's first.

    Returns
    -------
    Drawables
        As from `drawables`.
    """
    faces: list[Face] = []
    labels: list[Label] = []
    dots: list[Dot] = []
    write = write or _writer(scene)
    _room(scene, faces, labels, write)
    _screen(scene, faces, labels, write)
    _equipment(scene, faces, dots, labels, write)
    _panels(scene, placements, faces, labels, write)
    return Drawables(scene.title, tuple(faces), (), tuple(dots), tuple(labels), scene.enclosure.bounds)


def picture(plan: Plan) -> Drawables:
    """Choose what a single picture of a plan shows: panels, and the strongest paths left to the middle seat.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    Drawables
        For a painter of pictures.
    """
    whole = drawables(plan)
    seats = plan.scene.seats
    if not seats:
        return whole
    places = np.array([s.position for s in seats])
    middle = int(np.argmin(np.linalg.norm(places - places.mean(axis=0), axis=1)))
    return whole.with_paths("path-after", seats[middle].name, most=24)


def _rings(polygon: Polygon, out: float = 0.0) -> tuple[Array, ...]:
    parts = shapely.get_parts(polygon.region)
    flat = [np.asarray(r.coords)[:-1] for p in parts for r in (p.exterior, *p.interiors)]
    return tuple(frozen(polygon.to_room(ring, out)) for ring in flat)


def _corners(rectangle: Rectangle) -> Array:
    low_u, low_v, high_u, high_v = rectangle.bounds
    return np.array([[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]])


def _upright(at: Array, size: Sequence[float]) -> tuple[Array, Array]:
    """Base and top of a box around a point."""
    half = np.asarray(size) / 2.0
    x, y, z = at
    plan = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half[:2] + [x, y]
    return np.column_stack([plan, np.full(4, z - half[2])]), np.column_stack([plan, np.full(4, z + half[2])])


def _room(scene: Scene, faces: list[Face], labels: list[Label], write: Callable[[float], str]) -> None:
    for s in scene.surfaces:
        p = s.polygon
        colour = OBSTACLE if s.obstacle else FLOOR if s.kind == "floor" else WALL
        group = "obstacle" if s.obstacle else "room"
        what = s.obstacle or surface_title(s)
        detail = (what, f"{s.material.description or s.material.id}", area_words(p.area, scene.units, 2))
        faces.append(Face(_rings(p), p.normal, colour, 0.96 if s.obstacle else 0.5, what, group, detail))
        if not s.obstacle:
            labels.append(Label(p.centroid, what, "room", 5, p.normal))
    for name in dict.fromkeys(s.obstacle for s in scene.surfaces if s.obstacle):
        corners = np.concatenate(
            [s.polygon.to_room(s.polygon.edges[:, 0]) for s in scene.surfaces if s.obstacle == name]
        )
        labels.append(Label(frozen((corners.min(axis=0) + corners.max(axis=0)) / 2.0), name, "obstacle", 4))
    for o in scene.openings:
        p = scene.surfaces[o.surface].polygon
        detail = (o.name, o.material.description or o.material.id, _size(o.rectangle, write))
        ring = frozen(p.to_room(_corners(o.rectangle), _LIFT))
        faces.append(Face((ring,), p.normal, OPENING, 0.85, o.name, "opening", detail))
        labels.append(Label(frozen(p.to_room(o.rectangle.centre)), o.name, "opening", 4, p.normal))
    for k in scene.keep_outs:
        p = scene.surfaces[k.surface].polygon
        corners = _corners(k.rectangle.grown(-_LIFT))  # else its sides would lie in the next wall
        base, top = p.to_room(corners, _LIFT), p.to_room(corners, max(k.depth, 2.0 * _LIFT))
        reach = (
            f"{k.name}: keep free",
            f"reason: {k.reason}",
            _size(k.rectangle, write),
            f"reaches {write(k.depth)} into the room",
        )
        faces += block(base, top, colour=KEEP_OUT, opacity=0.22, name=k.name, group="keep-out", detail=reach)
        labels.append(
            Label(frozen(p.to_room(k.rectangle.centre, k.depth)), f"{k.name} (keep free)", "keep-out", 3)
        )


def _screen(scene: Scene, faces: list[Face], labels: list[Label], write: Callable[[float], str]) -> None:
    """Draw the picture, both its sides where it stands off its wall."""
    screen = scene.screen
    if screen is None:
        return
    detail = (
        "Screen",
        _size(screen.rectangle, write),
        f"{write(screen.distance)} before its wall" if screen.distance > 0.0 else "on its wall",
        "sound passes" if screen.sound_passes else "no sound passes",
    )
    normal = scene.surfaces[screen.surface].polygon.normal
    ring = frozen(screen_corners(scene, screen, 1.5 * _LIFT))
    faces.append(Face((ring,), normal, SCREEN, 1.0, "screen", "screen", detail))
    if screen.distance > 0.0:
        faces.append(Face((ring,), frozen(-normal), SCREEN, 0.6, "screen", "screen", detail))
    labels.append(Label(frozen(ring.mean(axis=0)), "screen", "screen", 3, normal))


def _size(r: Rectangle, write: Callable[[float], str]) -> str:
    return f"{write(r.width)} x {write(r.height)}"


def _place(at: Array, write: Callable[[float], str]) -> tuple[str, ...]:
    words = ("from the front wall", "from the left wall", "above the floor")
    return tuple(f"{write(float(value))} {w}" for value, w in zip(at, words, strict=True))


def _equipment(
    scene: Scene, faces: list[Face], dots: list[Dot], labels: list[Label], write: Callable[[float], str]
) -> None:
    for s in scene.loudspeakers:
        base, top = _upright(s.position, _LOUDSPEAKER_SIZE)
        detail = (f"Loudspeaker {s.name}", *([s.channel] if s.channel else []), *_place(s.position, write))
        faces += block(
            base,
            top,
            colour=LOUDSPEAKER,
            opacity=1.0,
            name=s.name,
            group="equipment",
            detail=detail,
        )
        labels.append(Label(frozen(s.position + np.array([0, 0, 0.26])), s.name, "equipment", 1))
    for w in scene.subwoofers:
        base, top = _upright(w.position, _SUBWOOFER_SIZE)
        detail = (f"Subwoofer {w.name}", *_place(w.position, write))
        faces += block(
            base,
            top,
            colour=SUBWOOFER,
            opacity=1.0,
            name=w.name,
            group="equipment",
            detail=detail,
        )
        labels.append(Label(frozen(w.position + np.array([0, 0, 0.3])), w.name, "equipment", 2))
    for seat in scene.seats:
        detail = (
            f"Seat {seat.name}",
            *_place(seat.position, write),
            f"head within {write(seat.spread)} each way",
            *(["someone sits there"] if seat.occupied else []),
        )
        if seat.occupied:
            base, top = _upright(seat.position - [0.0, 0.0, _BODY_BELOW], _BODY_SIZE)
            body = frozen(base), frozen(top)
            faces += block(*body, colour=SEAT, opacity=0.6, name=seat.name, group="seat", detail=detail)
        dots.append(Dot(seat.position, _HEAD_RADIUS, SEAT, seat.name, "seat", detail))
        if seat.spread > 0.0:
            square = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * seat.spread + seat.position
            for up in (1.0, -1.0):
                faces.append(
                    Face((frozen(square),), frozen([0, 0, up]), SEAT, 0.35, seat.name, "seat", detail)
                )
        labels.append(Label(frozen(seat.position + np.array([0, 0, 0.18])), seat.name, "seat", 1))


def _panels(
    scene: Scene,
    placements: Sequence[Placement],
    faces: list[Face],
    labels: list[Label],
    write: Callable[[float], str],
) -> None:
    for p in placements:
        surface = scene.surfaces[p.surface]
        polygon, build, corners = surface.polygon, p.build, _corners(p.rectangle)
        u_from, v_from = tape_starts(scene, p.surface, p.rectangle)
        detail = (
            f"{p.id}: {build.id}",
            f"{surface_title(surface)}, {_size(p.rectangle, write)}",
            f"{tape(u_from.reading(p.rectangle.u), scene.units)} {u_from.words}",
            f"{tape(v_from.reading(p.rectangle.v), scene.units)} {v_from.words}",
            _depths(scene, build.thickness, build.air_gap),
            *p.reasons,
        )
        if p.corner is not None:
            where = f"{corner_name(scene, p)}, {lengths(p.build.outer_height, scene.units)} high"
            detail = (detail[0], where, *detail[3:])
            for side in corner_faces(scene, p):
                faces.append(Face(_rings(side), side.normal, PANEL, 1.0, p.id, "panel", detail))
            front = frozen(corner_faces(scene, p)[0].centroid)
            labels.append(Label(front, p.id, "panel", 0))
            continue
        reach = reach_of(scene, p)
        base = polygon.to_room(corners, _LIFT if p.standing else max(reach - build.thickness, _LIFT))
        top = polygon.to_room(corners, max(reach, 2.0 * _LIFT))
        faces += block(
            base,
            top,
            colour=PANEL,
            opacity=1.0,
            name=p.id,
            group="panel",
            detail=detail,
            facing=polygon.normal,
        )
        labels.append(Label(frozen(polygon.to_room(p.rectangle.centre, reach)), p.id, "panel", 0))


def _writer(scene: Scene) -> Callable[[float], str]:
    return lambda metres: lengths(metres, scene.units)


def _depths(scene: Scene, thickness: float, gap: float) -> str:
    if scene.units in ("ft", "in"):
        return f"{format_imperial(thickness)} thick, gap {format_imperial(gap)}"
    return f"{1000.0 * thickness:.0f} mm thick, gap {1000.0 * gap:.0f} mm"


def _paths(evaluation: Evaluation, group: str) -> list[Line]:
    scene, a = evaluation.scene, evaluation.arrivals
    found = []
    for i in np.flatnonzero(a.order == 1):
        source, seat = scene.loudspeakers[a.source[i]], scene.seats[a.seat[i]]
        level = float(loudest(a.level_db[i]))
        points = frozen([source.position, a.points[i, 0], seat.position])
        name = f"{source.name} to {seat.name} by {a.names[i][0]}"
        detail = (
            name,
            f"{a.delay_ms[i]:.2f} ms behind the direct sound",
            f"{level:.1f} dB re direct (loudest octave, 1 to 8 kHz)",
            f"verdict: {verdict_words(a.verdict[i], panels=bool(evaluation.placements))}",
        )
        levels = tuple(a.level_db[i].tolist())
        ends = (source.name, seat.name)
        found.append(Line(points, level_colour(level), level, name, group, *ends, detail, levels))
    return found
