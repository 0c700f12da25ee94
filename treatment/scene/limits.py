"""Limits of a plan beside its budget: how many panels, how heavy in all, how deep, and where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from treatment.errors import Finding
from treatment.materials.build import PanelBuild
from treatment.measures import small_words
from treatment.scene.codes import finding, nearest
from treatment.scene.plan_entries import LimitsEntry

#: More panels than this are no limit.
_MOST_PANELS = 1000


@dataclass(frozen=True)
class Limits:
    """What a plan may use beside its money; None where nothing is said.

    Parameters
    ----------
    panels : int or None
        Number of panels.
    mass : float or None
        Of all panels together, kg; builds whose mass is not known cannot be used then.
    depth : float or None
        How far a panel with its gap may reach into the room, m.
    surfaces : tuple of str or None
        Names of the only surfaces that may carry panels.
    """

    panels: int | None = None
    mass: float | None = None
    depth: float | None = None
    surfaces: tuple[str, ...] | None = None

    def suit(self, build: PanelBuild) -> bool:
        """Tell whether a build may be used at all.

        Parameters
        ----------
        build : PanelBuild
            Any build.

        Returns
        -------
        bool
            False when it is too deep, heavier than all may be, or of unknown mass under a limit of mass.
        """
        if self.depth is not None and build.depth > self.depth + 1e-9:
            return False
        return self.mass is None or 0.0 < build.mass <= self.mass + 1e-9


def make_limits(
    entry: LimitsEntry | None,
    kinds: Mapping[str, str],
    builds: Sequence[PanelBuild],
    findings: list[Finding],
    units: str = "m",
) -> Limits:
    """Make limits of their entry.

    Parameters
    ----------
    entry : LimitsEntry or None
        As in the file.
    kinds : mapping of str to str
        Kind (``wall``, ``ceiling``, ``floor``) of each of the room's own surfaces by name.
    builds : sequence of PanelBuild
        Panels that may be built.
    findings : list of Finding
        Taken along; what cannot be is added.
    units : str
        Of the scene, for messages.

    Returns
    -------
    Limits
        Without those that cannot be.
    """
    if entry is None:
        return Limits()
    panels = None
    if entry.panels is not None:
        if 1.0 <= entry.panels <= _MOST_PANELS and entry.panels == int(entry.panels):
            panels = int(entry.panels)
        else:
            message = f"panels is {entry.panels:g}, which is no number of panels from 1 to {_MOST_PANELS}"
            hint = "write a whole number, or leave it out for no limit"
            findings.append(finding("limit-invalid", "limits.panels", message, hint))
    surfaces = None
    if entry.surfaces is not None:
        for i, name in enumerate(entry.surfaces):
            if name not in kinds:
                message, where = f'the room has no surface "{name[:60]}"', f"limits.surfaces[{i}]"
                findings.append(finding("unknown-surface", where, message, nearest(name, kinds)))
        surfaces = tuple(dict.fromkeys(n for n in entry.surfaces if n in kinds))
    limits = Limits(panels, entry.mass, entry.depth, surfaces)
    findings += _nothing_left(limits, kinds, builds, units)
    return limits


def _nothing_left(
    limits: Limits, kinds: Mapping[str, str], builds: Sequence[PanelBuild], units: str
) -> list[Finding]:
    """Tell when no panel at all can meet the limits."""
    on = {place for b in builds for place in b.on}
    bare = limits.surfaces is not None and all(kinds[n] == "floor" for n in limits.surfaces)
    if limits.surfaces is not None and bare and not (limits.surfaces and "free-standing" in on):
        named = ", ".join(limits.surfaces) or "no surface"
        message, hint = f"{named} can carry no panel", "name a wall, a slope or the ceiling, or leave it out"
        return [finding("limits-leave-nothing", "limits.surfaces", message, hint)]
    if not builds or any(limits.suit(b) for b in builds):
        return []
    if limits.depth is not None and all(b.depth > limits.depth + 1e-9 for b in builds):
        told, takes = (small_words(x, units) for x in (limits.depth, min(b.depth for b in builds)))
        message = f"no panel is as shallow as {told}: the shallowest takes {takes}"
        return [finding("limits-leave-nothing", "limits.depth", message, "allow more, or a thinner build")]
    known = [b.mass for b in builds if b.mass > 0.0]
    least_mass = f"the lightest weighs {min(known):.1f} kg" if known else "the mass of none is known"
    message = f"no panel is within the mass and depth: {least_mass}"
    hint = "allow more; give a build of your own layers with a density"
    return [finding("limits-leave-nothing", "limits.mass", message, hint)]
