"""Every build that a person may put up, chosen for planning or not."""

from __future__ import annotations

import functools

from treatment.air import Air
from treatment.materials.build import PanelBuild
from treatment.materials.builds import load_builds
from treatment.materials.fit_stock import fit_builds
from treatment.materials.library import load_library
from treatment.materials.stock import stock_for
from treatment.scene.model import Scene


@functools.lru_cache(maxsize=4)
def known_builds(air: Air) -> tuple[PanelBuild, ...]:
    """Every shipped build, in one state of the air.

    Parameters
    ----------
    air : Air
        Predictions depend on it.
    """
    return load_builds(load_library(), air)


def builds_of(scene: Scene | None) -> tuple[PanelBuild, ...]:
    """Every build that a person may hang: the room's own ones and all shipped ones.

    Parameters
    ----------
    scene : Scene or None
        The room.
    """
    if scene is None:
        return known_builds(Air())
    own = {b.id: b for b in (*scene.unasked_builds, *scene.builds)}
    shipped = fit_builds(known_builds(scene.air), scene.stock or stock_for(scene.units))
    return tuple({**{b.id: b for b in shipped}, **own}.values())
