"""Drawables -> a picture file. With `native` the only home of pyvista.

Where OpenGL is broken the toolkit may end the whole process, so pictures are rendered by a child
process: whatever happens there becomes a `ViewerError` here, and a plan is still written without
its picture. The child also keeps the toolkit's chatter off the user's terminal.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import Any, Final

import numpy as np

from treatment.bands import Array
from treatment.errors import TreatmentError
from treatment.present.camera import Camera, choose_camera, shown_opacity
from treatment.present.forms import Drawables, Face
from treatment.present.native.letters import font_file
from treatment.present.overlay import paint_overlay
from treatment.present.palette import INK, PAPER, rgb
from treatment.present.triangles import brightness, triangles_of

HINT: Final = (
    "everything else is written; for pictures install a software OpenGL "
    "(Debian, Ubuntu: apt install libgl1 libegl1 libgl1-mesa-dri)"
)
_WINDOWHINT: Final = "a window needs a desktop session; use `--browser`, or open room.html in any browser"
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
    render_apart(_CHILD, pickle.dumps((_as_planned(drawables), str(path), size)), path)


def render_apart(code: str, job: bytes, path: Path) -> None:
    """Let a child process render a picture, with one window system after the other.

    Parameters
    ----------
    code : str
        What the child runs.
    job : bytes
        What it reads from its standard input.
    path : Path
        File that it writes.

    Raises
    ------
    ViewerError
        When no window system gives a picture.
    """
    said = ""
    for window in _windows():
        environment = dict(os.environ)
        if window:
            environment["VTK_DEFAULT_OPENGL_WINDOW"] = window
        try:
            done = subprocess.run(
                [sys.executable, "-c", code],
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
    raise ViewerError(f"no picture can be rendered here: {said}", where=path.name, hint=HINT)


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
    paint_overlay(picture, drawables, camera, Path(path), font_file())


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


def _background(plotter: Any) -> None:
    plotter.set_background(PAPER)


def _add(plotter: Any, drawables: Drawables, eye: Array) -> None:
    """Add shapes, joined by colour and opacity: few actors draw fast.

    What stands between the eye and the room is left out or thinned.
    """
    import pyvista

    groups: dict[tuple[float, str], list[tuple[Array, float]]] = {}
    edges: list[Array] = []
    for face in drawables.faces:
        opacity = shown_opacity(face, eye)
        if opacity == 0.0:
            continue
        groups.setdefault((opacity, face.colour), []).extend(_shaded(face))
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
    for (opacity, colour), triangles in sorted(groups.items(), key=lambda g: -g[0][0]):
        points = np.concatenate([t[0] for t in triangles])
        shade = np.concatenate([np.full(3, t[1]) for t in triangles])
        cells = np.insert(np.arange(len(points)).reshape(-1, 3), 0, 3, axis=1).ravel()
        tint = np.outer(shade, rgb(colour)).clip(0, 255).astype(np.uint8)
        actor = plotter.add_mesh(
            pyvista.PolyData(points, cells),
            scalars=tint,
            rgb=True,
            opacity=opacity,
            lighting=False,
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
    return [(t, brightness(face)) for t in triangles_of(face)]
