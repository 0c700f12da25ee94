"""What a plan may use: money, number of panels, mass; and which of them held it back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from treatment.bands import Array
from treatment.materials.build import PanelBuild
from treatment.measures import small_words
from treatment.planning.plan import Placement
from treatment.scene.model import Scene

#: What is counted, in the order of the last axis of `needs` and `means`.
MEANS: Final = ("money", "panels", "mass")


def needs(builds: Sequence[PanelBuild]) -> Array:
    """What one panel of each build uses up.

    Parameters
    ----------
    builds : sequence of PanelBuild
        k builds.

    Returns
    -------
    numpy.ndarray
        Price, one panel, kg, shape (k, 3).
    """
    return np.array([(b.price, 1.0, b.mass) for b in builds], dtype=np.float64).reshape(-1, 3)


def means(scene: Scene, hanging: Sequence[Placement] = ()) -> Array:
    """What a plan may use beside what already hangs.

    Parameters
    ----------
    scene : Scene
        Its budget and limits.
    hanging : sequence of Placement
        Panels that stay; they count.

    Returns
    -------
    numpy.ndarray
        Money, number, kg that are left, shape (3,); infinite where nothing limits. Below 0 where what
        hangs is more than allowed already.
    """
    limits = scene.limits
    whole = [
        scene.budget.amount if scene.budget else np.inf,
        np.inf if limits.panels is None else float(limits.panels),
        np.inf if limits.mass is None else limits.mass,
    ]
    return np.asarray(np.array(whole) - needs([p.build for p in hanging]).sum(axis=0))


def costs(builds: Sequence[PanelBuild], whole: Array) -> list[Array]:
    """Ways to count the cost of a panel when gains are compared: by each of the means that is limited.

    Parameters
    ----------
    builds : sequence of PanelBuild
        k builds.
    whole : numpy.ndarray
        As from `means`.

    Returns
    -------
    list of numpy.ndarray
        Each of shape (k,), above 0; by price always and first. Where only few panels may hang, the best
        panel counts, not the cheapest.
    """
    used = np.maximum(needs(builds), [0.01, 1.0, 0.01])
    return [used[:, j] for j in range(len(MEANS)) if j == 0 or np.isfinite(whole[j])]


def limit_words(
    scene: Scene, builds: Sequence[PanelBuild], left: Array, wished: PanelBuild | None
) -> tuple[str, ...]:
    """Say which limit held the plan back.

    Parameters
    ----------
    scene : Scene
        Its budget and limits.
    builds : sequence of PanelBuild
        All that the scene allows, before the limits.
    left : numpy.ndarray
        Money, number, kg that the plan leaves, shape (3,).
    wished : PanelBuild or None
        What would have been hung next without budget and limits; None when no further panel helps.

    Returns
    -------
    tuple of str
        Sentences; at least one.
    """
    limits = scene.limits
    said = []
    currency = scene.budget.currency if scene.budget else ""
    if wished is None:
        said.append("No limit held the plan back: by the objective a further panel does not pay.")
    else:
        short = needs([wished])[0] > left + 1e-9
        names = (
            f"the budget ({max(left[0], 0.0):.2f} {currency} are left, {wished.id} costs {wished.price:.2f})",
            f"the number of panels ({limits.panels})",
            f"the mass ({max(left[2], 0.0):.1f} kg of {limits.mass or 0.0:g} kg are left, {wished.id} weighs "
            f"{wished.mass:.1f} kg)",
        )
        holding = [name for name, held in zip(names, short, strict=True) if held]
        if holding:
            said.append(f"What held the plan back: {' and '.join(holding)}.")
    if limits.depth is not None:
        deep = [b.id for b in builds if b.depth > limits.depth + 1e-9]
        if deep:
            said.append(
                f"The limit of {small_words(limits.depth, scene.units)} in depth leaves out {len(deep)} of "
                f"{len(builds)} builds: {_some(deep)}."
            )
    if limits.mass is not None:
        unknown = [b.id for b in builds if not b.mass > 0.0]
        if unknown:
            said.append(f"Left out under a limit of mass, because their own is not known: {_some(unknown)}.")
    if limits.surfaces is not None:
        said.append(f"Only these surfaces may carry panels: {', '.join(limits.surfaces)}.")
    return tuple(said)


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - 6} more" if len(names) > 6 else ""
    return ", ".join(names[:6]) + more
