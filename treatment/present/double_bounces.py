"""Sound that bounces twice, as the room's page carries it: many paths, so no more of each than is needed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from treatment.bands import Array, frozen
from treatment.planning.plan import Evaluation, Plan
from treatment.present.fate_words import verdict_words


@dataclass(frozen=True, eq=False)
class DoubleBounces:
    """Second-order paths; n of them.

    Parameters
    ----------
    sources, seats : tuple of str
        Names of all loudspeakers and seats.
    source_at, seat_at : numpy.ndarray
        Where they are, shape (s, 3) and (t, 3), m.
    names : tuple of str
        What sound bounces off, each once.
    verdicts : tuple of str
        By the early-reflection criterion, each once.
    rows : tuple of tuple of int
        For each path 1 with the panels and 0 without; index of loudspeaker, seat, first and second name and
        verdict; both points, mm; delay behind the direct sound, 0.01 ms; level re direct by octave, 0.1 dB.
    """

    sources: tuple[str, ...]
    seats: tuple[str, ...]
    source_at: Array
    seat_at: Array
    names: tuple[str, ...]
    verdicts: tuple[str, ...]
    rows: tuple[tuple[int, ...], ...]

    def document(self) -> dict[str, Any]:
        """Write them for JSON."""
        return {
            "sources": list(self.sources),
            "seats": list(self.seats),
            "source_at": np.round(self.source_at, 3).tolist(),
            "seat_at": np.round(self.seat_at, 3).tolist(),
            "names": list(self.names),
            "verdicts": list(self.verdicts),
            "rows": [list(row) for row in self.rows],
        }


def double_bounces(subject: Evaluation | Plan) -> DoubleBounces:
    """Collect the second-order paths.

    Parameters
    ----------
    subject : Evaluation or Plan
        A plan has those without and those with its panels; an evaluation its own.

    Returns
    -------
    DoubleBounces
        In the order of the arrivals.
    """
    scene = subject.scene
    states = [subject.before, subject.after] if isinstance(subject, Plan) else [subject]
    names: dict[str, int] = {}
    verdicts: dict[str, int] = {}
    rows = []
    for e in states:
        a, with_panels = e.arrivals, int(bool(e.placements))
        if isinstance(subject, Plan):
            with_panels = int(e is subject.after)
        for i in np.flatnonzero(a.order == 2):
            points = np.round(1000.0 * a.points[i, :2]).astype(int).ravel().tolist()
            levels = np.round(10.0 * a.level_db[i]).astype(int).tolist()
            off = [names.setdefault(str(n), len(names)) for n in a.names[i][:2]]
            verdict = verdicts.setdefault(
                verdict_words(a.verdict[i], panels=bool(with_panels)), len(verdicts)
            )
            rows.append(
                (
                    with_panels,
                    int(a.source[i]),
                    int(a.seat[i]),
                    *off,
                    verdict,
                    *points,
                    round(100.0 * float(a.delay_ms[i])),
                    *levels,
                )
            )
    return DoubleBounces(
        tuple(s.name for s in scene.loudspeakers),
        tuple(s.name for s in scene.seats),
        frozen(np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)),
        frozen(np.array([s.position for s in scene.seats]).reshape(-1, 3)),
        tuple(names),
        tuple(verdicts),
        tuple(rows),
    )
