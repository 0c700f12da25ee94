"""``treatment predict``: the room as it is."""

from __future__ import annotations

from typing import Annotated

import typer

from treatment.cli.talk import (
    FullOption,
    JsonOption,
    PrecisionOption,
    RaysOption,
    SceneArgument,
    console_of,
    load,
    print_json,
    progress,
    rays_asked,
)


def predict(
    scene: SceneArgument,
    as_json: JsonOption = False,
    order: Annotated[int, typer.Option(min=1, max=3, help="Highest number of reflections.")] = 2,
    rays: RaysOption = 0,
    precision: PrecisionOption = 0.0,
    full: FullOption = False,
) -> None:
    """Predict the room as it is: arrivals at the seats, and reverberation."""
    from treatment.planning.evaluate import evaluate
    from treatment.present.documents import predict_document

    room, findings = load(scene)
    result = evaluate(room, order=order)
    if rays or precision:
        from treatment.planning.trace import trace_scene, with_rays

        most, asked = rays_asked(rays, precision)
        with progress("tracing rays") as step:
            result = with_rays(result, trace_scene(room, (), most, precision=asked, progress=step))
    if as_json:
        print_json(predict_document(result, findings))
        return
    from treatment.present.console import print_prediction
    from treatment.present.room_summary import print_room_summary

    (print_prediction if full else print_room_summary)(console_of(), result, findings)
