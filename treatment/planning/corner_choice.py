"""Places across corners among those that the choice looks at.

They count by what they add to the absorption of the room, what they cover taken off, as `evaluate` counts
it. What they do to early reflections is not claimed beforehand: it stands in the evaluation after.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.boxes import Boxes
from treatment.materials.build import PanelBuild
from treatment.planning.candidates import Sites
from treatment.planning.corner_sites import legal_bottoms, surroundings_of
from treatment.planning.corners import corner_body, corner_placement
from treatment.planning.plan import Placement
from treatment.planning.standing import furnished
from treatment.scene.model import Scene

#: Builds of one width, height and thickness stand in the same places.
_Size = tuple[float, float, float]


def with_corners(
    scene: Scene,
    flat: Sites,
    builds: Sequence[PanelBuild],
    hanging: Sequence[Placement],
    allowed: NDArray[np.bool_],
    added: Array,
) -> tuple[Sites, NDArray[np.bool_], Array]:
    """Add the places across corners to those on surfaces.

    Parameters
    ----------
    scene : Scene
        The room, with what stands in it.
    flat : Sites
        Places on surfaces.
    builds : sequence of PanelBuild
        To choose from, k of them.
    hanging : sequence of Placement
        Panels that are there already.
    allowed : numpy.ndarray
        Which build fits which place on a surface, shape (g, k), bool.
    added : numpy.ndarray
        Absorption area that each adds there, shape (g, k, 8), m2.

    Returns
    -------
    sites, allowed, added
        With the places across corners behind the others; the same where there are none.
    """
    kinds: dict[_Size, list[int]] = {}
    for k, b in enumerate(builds):
        if "corner" in b.on:
            kinds.setdefault((b.outer_width, b.outer_height, b.thickness), []).append(k)
    if not kinds:
        return flat, allowed, added
    around, named = surroundings_of(scene), scene.limits.surfaces
    found: list[Placement] = []
    fits: list[NDArray[np.bool_]] = []
    gains: list[Array] = []
    # By corner, height and size: the twin on the other side has the same key but for y.
    keys: dict[tuple[int, ...], int] = {}
    middle = float(scene.hall[:, 1].mean())
    mirrored: list[tuple[int, ...]] = []
    for n, size in enumerate(sorted(kinds)):
        for corner in around.corners:
            if named is not None and any(scene.surfaces[w].name not in named for w in corner.walls):
                continue
            known: dict[tuple[bool, bool], Array] = {}
            for bottom in legal_bottoms(scene, corner, builds[kinds[size][0]], around, hanging):
                own, row = np.zeros(len(builds), dtype=bool), np.zeros((len(builds), added.shape[-1]))
                own[kinds[size]] = True
                touching = (bottom < 1e-6, bottom + size[1] > corner.height - 1e-3)
                if touching not in known:
                    for k in kinds[size]:
                        row[k] = _added(scene, corner_placement(scene, corner, builds[k], bottom, "P"))
                    known[touching] = row
                p = corner_placement(scene, corner, builds[kinds[size][0]], bottom, "P")
                x, y, z = (float(c) for c in corner.foot)
                keys[_key(n, x, y, z + bottom)] = len(found)
                mirrored.append(_key(n, x, 2.0 * middle - y, z + bottom))
                found.append(p)
                fits.append(own)
                gains.append(known[touching])
    if not found:
        return flat, allowed, added
    twin = np.array([keys.get(key, -1 - len(flat)) for key in mirrored]) + len(flat)
    body = Boxes.joined([corner_body(scene, p) for p in found])
    return (
        Sites(
            np.concatenate([flat.surface, [p.surface for p in found]]),
            np.concatenate([flat.rectangle, [p.rectangle.bounds for p in found]]),
            # Infinitely far from every bounce: no early gain is claimed.
            np.concatenate([flat.face, np.full((len(found), 4), np.inf)]),
            Boxes.joined([flat.body, body]),
            np.concatenate([flat.depth, [p.build.thickness for p in found]]),
            # What has a negative extent is met by nothing.
            Boxes.joined([flat.passage, Boxes(body.centre, body.axes, np.full((len(found), 3), -10.0))]),
            np.concatenate([flat.mirror, twin]),
            np.concatenate([np.full(len(flat), -1), [-1 if p.corner is None else p.corner for p in found]]),
        ),
        np.concatenate([allowed, np.array(fits)]),
        np.concatenate([added, np.array(gains)]),
    )


def _key(size: int, x: float, y: float, z: float) -> tuple[int, ...]:
    return (size, *(round(1e3 * c) for c in (x, y, z)))


def _added(scene: Scene, placement: Placement) -> Array:
    """Absorption area that a panel across a corner adds, what it covers taken off, shape (8,), m2."""

    def area(s: Scene) -> Array:
        return np.asarray(sum(x.polygon.area * x.material.absorption for x in s.surfaces))

    return area(furnished(scene, [placement])) - area(scene)
