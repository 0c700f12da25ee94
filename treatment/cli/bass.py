"""``treatment bass``: modes, seats and subwoofers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from treatment.cli.talk import JsonOption, console_of, load, print_json, write_file

#: More points than this tell nothing new.
_MOST_POINTS = 5000


def bass(
    subject: Annotated[
        str, typer.Argument(metavar="SCENE_OR_PLAN", help="A room file, or a folder that `plan` wrote.")
    ],
    as_json: JsonOption = False,
    low: Annotated[float, typer.Option("--from", metavar="HZ", help="Lowest frequency.")] = 20.0,
    high: Annotated[float, typer.Option("--to", metavar="HZ", help="Highest, at most 300.")] = 160.0,
    step: Annotated[float, typer.Option("--step", metavar="HZ", help="Between frequencies.")] = 1.0,
    decay: Annotated[
        float | None, typer.Option("--decay", metavar="SECONDS", help="One decay time for all modes.")
    ] = None,
    chart: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also draw the responses: a .svg or .png file.")
    ] = None,
) -> None:
    """Say what the bass does: modes, every seat's response, where subwoofers serve all seats."""
    import numpy as np

    from treatment.planning.bass import predict_bass
    from treatment.planning.bass_advice import advise_bass
    from treatment.present.bass import bass_chart, bass_document, print_bass

    def refuse(option: str, words: str) -> None:
        raise typer.BadParameter(words, param_hint=option)

    if not 5.0 <= low < 300.0:
        refuse("--from", f"{low:g} Hz is not from 5 to 300 Hz")
    if not low < high <= 300.0:
        refuse("--to", f"{high:g} Hz is not above --from and at most 300 Hz")
    if not 0.0 < step <= high - low or (high - low) / step > _MOST_POINTS:
        refuse("--step", f"{step:g} Hz does not divide the range into 1 to {_MOST_POINTS} steps")
    if decay is not None and not 0.05 <= decay <= 20.0:
        refuse("--decay", f"{decay:g} s is not from 0.05 to 20 s")
    if chart is not None and chart.suffix.lower() not in (".svg", ".png"):
        refuse("--chart", f"'{chart.name}' is neither .svg nor .png")
    if Path(subject).is_dir():
        from treatment.present.reopen import reopen_plan

        plan = reopen_plan(Path(subject))
        room, placements = plan.scene, plan.placements
    else:
        room, placements = load(subject)[0], ()
    frequency = low + step * np.arange(int((high - low) / step + 1e-9) + 1, dtype=np.float64)
    result = predict_bass(room, placements, frequency_hz=frequency, decay_s=decay)
    advice = advise_bass(result)
    if chart is not None:
        drawn = bass_chart(result, advice, "png" if chart.suffix.lower() == ".png" else "svg")
        write_file(chart, drawn.encode() if isinstance(drawn, str) else drawn)
    if as_json:
        print_json(bass_document(result, advice))
    else:
        print_bass(console_of(), result, advice)
