"""``treatment check``: everything that is wrong with a room file."""

from __future__ import annotations

import typer

from treatment.cli.talk import JsonOption, SceneArgument, console_of, load, print_json
from treatment.errors import Finding, SceneError


def check(scene: SceneArgument, as_json: JsonOption = False) -> None:
    """Say everything that is wrong with a room file, all at once."""
    from treatment.present.console import print_findings
    from treatment.present.documents import finding_documents

    try:
        _, findings = load(scene)
        status = 0
    except SceneError as error:
        findings = error.findings or (Finding("stopped", "error", error.where, error.message, error.hint),)
        status = 1
    if as_json:
        print_json({"scene": scene, "findings": finding_documents(findings)})
    else:
        console = console_of()
        print_findings(console, findings)
        counts = {s: sum(f.severity == s for f in findings) for s in ("error", "warning", "note")}
        console.print(", ".join(f"{n} {s}{'s' * (n != 1)}" for s, n in counts.items()))
    raise typer.Exit(status)
