"""Plan the acoustic treatment of a small home cinema.

A scene file is loaded, evaluated, and turned into a plan::

    from treatment import evaluate, load_scene, make_plan

    scene, findings = load_scene("scenes/garden-room.toml")
    before = evaluate(scene)
    plan = make_plan(scene)

Nothing is imported until a name is asked for, so that the command line answers quickly.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "Air": "treatment.air",
    "Arrivals": "treatment.planning.plan",
    "Budget": "treatment.scene.model",
    "Enclosure": "treatment.geometry.enclosure",
    "Evaluation": "treatment.planning.plan",
    "Finding": "treatment.errors",
    "GeometryError": "treatment.errors",
    "Material": "treatment.materials.material",
    "MaterialError": "treatment.errors",
    "PanelBuild": "treatment.materials.build",
    "Placement": "treatment.planning.plan",
    "Plan": "treatment.planning.plan",
    "PlanError": "treatment.errors",
    "Polygon": "treatment.geometry.polygon",
    "Rectangle": "treatment.geometry.polygon",
    "Scene": "treatment.scene.model",
    "SceneError": "treatment.errors",
    "TreatmentError": "treatment.errors",
    "assemble": "treatment.planning.make",
    "evaluate": "treatment.planning.evaluate",
    "find_paths": "treatment.acoustics.image_sources",
    "load_library": "treatment.materials.library",
    "load_scene": "treatment.scene.load",
    "make_plan": "treatment.planning.make",
    "target_range": "treatment.planning.targets",
}

__all__ = sorted(_HOMES)


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first asked for."""
    if name not in _HOMES:
        raise AttributeError(f"module 'treatment' has no attribute '{name}'")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value
