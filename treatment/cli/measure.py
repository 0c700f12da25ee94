"""``treatment measure``: a measured impulse response, and whether the room does what was predicted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from treatment.cli.talk import JsonOption, console_of, load, print_json, write_file

if TYPE_CHECKING:
    from treatment.planning.plan import Placement
    from treatment.scene.model import Scene


def measure(
    wav: Annotated[Path, typer.Argument(metavar="WAV", help="A measured impulse response (WAV, PCM).")],
    scene: Annotated[
        str | None,
        typer.Option(
            "--scene", metavar="SCENE_OR_PLAN", help="Compare with the room, or with a plan's after."
        ),
    ] = None,
    loudspeaker: Annotated[
        str, typer.Option(metavar="NAME", help="Which one played. Default: the scene's first.")
    ] = "",
    seat: Annotated[
        str, typer.Option(metavar="NAME", help="Where the microphone stood. Default: the scene's first.")
    ] = "",
    channel: Annotated[int, typer.Option(min=1, help="Of the file.")] = 1,
    as_json: JsonOption = False,
    chart: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also draw it beside the prediction: .svg or .png.")
    ] = None,
) -> None:
    """Read decay times and early arrivals from a measured impulse response."""
    from treatment.planning.evaluate import evaluate
    from treatment.planning.recording import read_recording
    from treatment.planning.verify import evaluate_pair, judge_recording
    from treatment.present.measure import measure_chart, measure_document, print_measurement

    if chart is not None and chart.suffix.lower() not in (".svg", ".png"):
        raise typer.BadParameter(f"'{chart.name}' is neither .svg nor .png", param_hint="--chart")
    for option, value in (("--loudspeaker", loudspeaker), ("--seat", seat)):
        if value and scene is None:
            raise typer.BadParameter("it needs --scene", param_hint=option)
    recording = read_recording(wav, channel)
    evaluation = everything = None
    assumed: list[str] = []
    if scene is not None:
        room, hanging = _room_and_panels(scene)
        evaluation = evaluate_pair(room, hanging, source=loudspeaker, seat=seat)
        everything = evaluate(room, hanging, order=3)
        named = (("loudspeaker", loudspeaker, room.loudspeakers), ("seat", seat, room.seats))
        # Where there is but one, nothing is assumed.
        assumed = [what for what, value, known in named if not value and len(known) > 1]
    found = judge_recording(recording, evaluation, everything, assumed)
    if chart is not None:
        drawn = measure_chart(found, "png" if chart.suffix.lower() == ".png" else "svg")
        write_file(chart, drawn.encode() if isinstance(drawn, str) else drawn)
    if as_json:
        print_json(measure_document(found))
    else:
        print_measurement(console_of(), found)


def _room_and_panels(text: str) -> tuple[Scene, tuple[Placement, ...]]:
    """A room file and no panel, or a plan's folder and its panels."""
    if Path(text).is_dir():
        from treatment.present.reopen import reopen_plan

        plan = reopen_plan(Path(text))
        return plan.scene, tuple(plan.placements)
    return load(text)[0], ()
