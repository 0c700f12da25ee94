"""``treatment check``: everything that is wrong with a room file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from treatment.cli.talk import JsonOption, console_of, load, print_json
from treatment.errors import Finding, SceneError


def check(
    scene: Annotated[
        str,
        typer.Argument(
            metavar="SCENE_OR_PLAN", help="A room file (TOML), a shipped example, or the folder of a plan."
        ),
    ],
    as_json: JsonOption = False,
) -> None:
    """Say everything that is wrong with a room file, or with a plan's room and its panels, all at once."""
    from treatment.present.console import print_findings
    from treatment.present.documents import finding_documents

    try:
        findings, panels = _found(scene)
        status = int(any(f.severity == "error" for f in findings))
    except SceneError as error:
        findings = error.findings or (Finding("stopped", "error", error.where, error.message, error.hint),)
        status, panels = 1, 0
    if as_json:
        print_json({"scene": scene, "findings": finding_documents(findings)})
    else:
        console = console_of()
        print_findings(console, findings)
        counts = {s: sum(f.severity == s for f in findings) for s in ("error", "warning", "note")}
        looked = f"; {panels} panel{'s' * (panels != 1)} of the plan looked at" if panels else ""
        console.print(", ".join(f"{n} {s}{'s' * (n != 1)}" for s, n in counts.items()) + looked)
    raise typer.Exit(status)


def _found(text: str) -> tuple[tuple[Finding, ...], int]:
    """Findings of a room file, or of a plan's room and of its panels in it, and how many panels these are."""
    if not Path(text).is_dir():
        return load(text)[1], 0
    from treatment.planning.legal import review_placements
    from treatment.present.reopen import read_copy, read_placements

    room, findings = read_copy(Path(text))
    panels = read_placements(room, Path(text))
    return (*findings, *review_placements(room, panels)), len(panels)
