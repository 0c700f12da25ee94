"""Drawables -> a picture file or a native window. The only home of pyvista.

Where OpenGL is broken the toolkit may end the whole process, so pictures are rendered by a child
process: whatever happens there becomes a `ViewerError` here, and a plan is still written without
its picture. The child also keeps the toolkit's chatter off the user's terminal.
"""

from __future__ import annotations

import ctypes
import os
import pickle
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

import numpy as np

from treatment.bands import Array
from treatment.errors import TreatmentError
from treatment.present.camera import Camera, choose_camera, faces_camera, hides_room
from treatment.present.forms import Drawables, Face
from treatment.present.overlay import paint_overlay
from treatment.present.palette import INK, PAPER, rgb

_HINT: Final = (
    "everything else is written; for pictures install a software OpenGL "
    "(Debian, Ubuntu: apt install libgl1 libegl1 libgl1-mesa-dri)"
)
_WINDOW_HINT: Final = "a window needs a desktop session; use `--browser`, or open room.html in any browser"
_SECONDS: Final = 60.0
_CHILD: Final = "from treatment.present.viewer import child; child()"
#: Window systems to try without a screen: hardware or Mesa through EGL, then Mesa in memory.
_WITHOUT_SCREEN: Final = ("vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow")


class ViewerError(TreatmentError):
    """No picture or window can be made on this machine."""


def render_png(drawables: Drawables, path: Path, size: tuple[int, int] = (1600, 1000)) -> None:
    """Render a picture of the room from a view above one of its corners.

    It waits for a child process, so that a caller may run it in a thread beside other work.

    Parameters
    ----------
    drawables : Drawables
        What to paint; where paths before and after are given, those after are painted.
    path : Path
        PNG file to write.
    size : tuple of int
        Width and height in pixels.

    Raises
    ------
    ViewerError
        When OpenGL or pyvista does not work here; `path` is not written then.
    """
    job = pickle.dumps((_as_planned(drawables), str(path), size))
    said = ""
    for window in _windows():
        environment = dict(os.environ)
        if window:
            environment["VTK_DEFAULT_OPENGL_WINDOW"] = window
        try:
            done = subprocess.run(
                [sys.executable, "-c", _CHILD],
                input=job,
                env=environment,
                capture_output=True,
                timeout=_SECONDS,
                check=False,
            )
        except (OSError, subprocess.TimeoutExpired) as problem:
            said = type(problem).__name__
            continue
        if done.returncode == 0 and path.is_file():
            return
        lines = done.stderr.decode("utf-8", "replace").strip().splitlines()
        said = lines[-1].strip()[:200] if lines else f"the renderer ended with status {done.returncode}"
    raise ViewerError(f"no picture can be rendered here: {said}", where=path.name, hint=_HINT)


def _as_planned(drawables: Drawables) -> Drawables:
    """Leave out paths of the untreated room where those of the treated one are known."""
    treated = any(line.group == "path-after" for line in drawables.lines)
    return drawables.without("path-before") if treated else drawables


def _windows() -> tuple[str, ...]:
    """Window systems to try; empty text leaves the choice to the toolkit."""
    if not sys.platform.startswith("linux") or "VTK_DEFAULT_OPENGL_WINDOW" in os.environ:
        return ("",)
    return _WITHOUT_SCREEN


def child() -> None:
    """Render the job that stands on standard input; the child's whole life."""
    drawables, path, size = pickle.loads(sys.stdin.buffer.read())
    camera = choose_camera(drawables, size)
    picture = _rendered(drawables, camera, size)
    paint_overlay(picture, drawables, camera, Path(path), _font())


def _font() -> str:
    """Path of a font with many scripts, from matplotlib's data; importing matplotlib would take a second."""
    spec = find_spec("matplotlib")
    home = Path(spec.origin).parent if spec and spec.origin else Path()
    font = home / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    return str(font) if font.is_file() else ""


def _rendered(drawables: Drawables, camera: Camera, size: tuple[int, int]) -> Any:
    import pyvista

    plotter = pyvista.Plotter(off_screen=True, window_size=list(size), lighting="none")
    _background(plotter)
    plotter.enable_anti_aliasing("msaa", multi_samples=4)
    _add(plotter, drawables, camera.position)
    plotter.camera.position = tuple(camera.position)
    plotter.camera.focal_point = tuple(camera.focus)
    plotter.camera.up = (0.0, 0.0, 1.0)
    plotter.camera.view_angle = camera.view_angle
    plotter.camera.clipping_range = camera.clipping
    picture = plotter.screenshot(None, return_img=True)
    plotter.close()
    return picture


def show(drawables: Drawables) -> None:
    """Open a native window: drag to turn, wheel to zoom, ``q`` to close.

    Parameters
    ----------
    drawables : Drawables
        What to paint.

    Raises
    ------
    ViewerError
        When there is no screen, or OpenGL or pyvista does not work here.
    """
    if sys.platform.startswith("linux") and not _screen_answers():
        raise ViewerError("there is no screen to open a window on", hint=_WINDOW_HINT)
    try:
        import pyvista
    except ImportError as problem:
        raise ViewerError(f"the 3D toolkit cannot be loaded: {problem}", hint=_HINT) from None
    try:
        plotter = pyvista.Plotter(title=drawables.title[:80], window_size=[1400, 900], lighting="none")
        _background(plotter)
        drawables = _as_planned(drawables)
        # Every face is painted on one side only: walls between the viewer and the room vanish.
        _add(plotter, drawables, None)
        _labels(plotter, drawables)
        camera = choose_camera(drawables, (1400, 900))
        plotter.camera.position = tuple(camera.position)
        plotter.camera.focal_point = tuple(camera.focus)
        plotter.camera.up = (0.0, 0.0, 1.0)
        plotter.camera.view_angle = camera.view_angle
        plotter.show()
    except (RuntimeError, OSError) as problem:
        raise ViewerError(f"no window can be opened here: {problem}", hint=_WINDOW_HINT) from None


def _screen_answers() -> bool:
    """Whether an X server answers; the toolkit would only mutter, and show nothing."""
    if not os.environ.get("DISPLAY"):
        return False
    try:
        x11 = ctypes.CDLL("libX11.so.6")
    except OSError:
        return False
    x11.XOpenDisplay.restype = ctypes.c_void_p
    x11.XCloseDisplay.argtypes = [ctypes.c_void_p]
    display = x11.XOpenDisplay(None)
    if not display:
        return False
    x11.XCloseDisplay(display)
    return True


def _labels(plotter: Any, drawables: Drawables) -> None:
    """Labels that move with the window; the toolkit leaves out those that would overlap."""
    kept = [x for x in drawables.labels if x.group != "room"]
    if kept:
        plotter.add_point_labels(
            np.array([x.position for x in kept]),
            [x.text[:40] for x in kept],
            font_size=14,
            text_color=INK,
            shape_color=PAPER,
            shape_opacity=0.8,
            show_points=False,
            always_visible=True,
        )


def _background(plotter: Any) -> None:
    plotter.set_background(PAPER)


def _add(plotter: Any, drawables: Drawables, eye: Array | None) -> None:
    """Add shapes, joined by colour and opacity: few actors draw fast.

    With an eye, what stands between it and the room is left out or thinned; without one the toolkit
    culls while the window turns.
    """
    import pyvista

    groups: dict[tuple[float, str, bool], list[tuple[Array, float]]] = {}
    edges: list[Array] = []
    for face in drawables.faces:
        if eye is not None and not faces_camera(face, eye):
            continue
        one_sided = face.group in ("room", "opening")
        # Far walls need not be translucent once the near ones are cut away.
        opacity = 1.0 if one_sided else face.opacity
        if eye is not None and face.group == "panel" and hides_room(face, eye):
            opacity = 0.4
        groups.setdefault((opacity, face.colour, one_sided), []).extend(_shaded(face))
        if eye is not None or not one_sided:  # a culled wall must not leave its outline behind
            edges += [np.vstack([ring, ring[:1]]) for ring in face.rings]
    if edges:
        plotter.add_mesh(_polylines(edges), color=INK, line_width=1.0, lighting=False)
    for line in drawables.lines:
        plotter.add_mesh(_polylines([line.points]), color=line.colour, line_width=1.8, lighting=False)
    for dot in drawables.dots:
        ball = pyvista.Sphere(
            radius=dot.radius, center=tuple(dot.position), theta_resolution=20, phi_resolution=20
        )
        up = np.asarray(ball.point_normals)[:, 2]
        tint = np.outer(0.85 + 0.25 * up, rgb(dot.colour)).clip(0, 255).astype(np.uint8)
        plotter.add_mesh(ball, scalars=tint, rgb=True, lighting=False)
    # Solid things first: translucent ones are blended over them.
    for (opacity, colour, one_sided), triangles in sorted(groups.items(), key=lambda g: -g[0][0]):
        points = np.concatenate([t[0] for t in triangles])
        shade = np.concatenate([np.full(3, t[1]) for t in triangles])
        cells = np.insert(np.arange(len(points)).reshape(-1, 3), 0, 3, axis=1).ravel()
        tint = np.outer(shade, rgb(colour)).clip(0, 255).astype(np.uint8)
        culling = "back" if eye is None and one_sided else None
        actor = plotter.add_mesh(
            pyvista.PolyData(points, cells),
            scalars=tint,
            rgb=True,
            opacity=opacity,
            lighting=False,
            culling=culling,
        )
        # Push areas back by a hair, so that the lines along their edges are drawn whole.
        actor.mapper.SetResolveCoincidentTopologyToPolygonOffset()


def _polylines(chains: list[Array]) -> Any:
    import pyvista

    cells: list[int] = []
    start = 0
    for chain in chains:
        cells += [len(chain), *range(start, start + len(chain))]
        start += len(chain)
    return pyvista.PolyData(np.concatenate(chains), lines=np.array(cells))


def _shaded(face: Face) -> list[tuple[Array, float]]:
    """Triangles of a face, wound by its normal, each with one brightness by its slant."""
    # A soft light from above and a little from the front: planes of different slant keep apart.
    brightness = 0.90 + 0.10 * float(face.normal @ np.array([0.35, 0.25, 0.90]))
    return [(t, brightness) for t in _triangles(face)]


def _triangles(face: Face) -> list[Array]:
    ring = face.rings[0]
    if len(face.rings) == 1 and len(ring) == 4:
        parts = [ring[[0, 1, 2]], ring[[0, 2, 3]]]
    else:
        import shapely

        u = ring[1] - ring[0]
        u = u / np.linalg.norm(u)
        v = np.cross(face.normal, u)
        flat = [np.stack([(r - ring[0]) @ u, (r - ring[0]) @ v], axis=-1) for r in face.rings]
        region = shapely.Polygon()
        for outline in flat:
            region = region.symmetric_difference(shapely.Polygon(outline))
        pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(region))
        corners = [np.asarray(t.exterior.coords)[:3] for t in pieces]
        parts = [ring[0] + c[:, :1] * u + c[:, 1:] * v for c in corners]
    return [p if np.cross(p[1] - p[0], p[2] - p[0]) @ face.normal >= 0.0 else p[::-1] for p in parts]
