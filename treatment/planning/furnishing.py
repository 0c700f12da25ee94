"""What objects and people in a room do to its sound: absorb, and take up air.

Every formula of reverberation then runs on the air that is left, with the objects' absorption area
spread over it like an attenuation of the air: ``4 m V' = 4 m_air V' + A_obj``. For Sabine's formula that is
EN 12354-6:2003, (1) and (5), exactly; for the others it is the same assumption, that objects stand
anywhere in a mixed field.
"""

from __future__ import annotations

import numpy as np

from treatment import bands
from treatment.bands import Array, frozen
from treatment.scene.model import Scene


def objects_area(scene: Scene) -> Array:
    """Equivalent absorption area of all objects and people.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    numpy.ndarray
        Shape (8,), m2.
    """
    total = np.zeros(bands.COUNT)
    for o in scene.objects:
        total += o.count * o.area
    return frozen(total)


def displaced_volume(scene: Scene) -> float:
    """Air that objects and people displace.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    float
        m3.
    """
    return float(sum(o.count * o.volume for o in scene.objects))


def free_volume(scene: Scene) -> float:
    """Volume of air that sound moves in.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    float
        The enclosure's less that of the objects, m3.
    """
    return scene.enclosure.volume - displaced_volume(scene)


def objects_attenuation(scene: Scene) -> Array:
    """Attenuation along the way that stands for the objects in a mixed field.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    numpy.ndarray
        ``A_obj/(4 V')``, shape (8,), 1/m: a path through the room meets a convex object of the surface S
        on the average ``S/(4 V')`` times a metre, and leaves ``A_obj/S`` there.
    """
    return frozen(objects_area(scene) / (4.0 * free_volume(scene)))


def attenuation(scene: Scene) -> Array:
    """Attenuation of the air and of the objects together.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    numpy.ndarray
        Shape (8,), 1/m, as the formulas of `treatment.acoustics.reverberation` take it for ``air``.
    """
    return frozen(scene.air.power_attenuation() + objects_attenuation(scene))
