"""Draw the pictures of patches.md and images.md: Fresnel zones, panel sizes, fading at an edge.

    python docs/method/draw_patches.py [FOLDER]

Lines are the program's own model; the dots of the second picture are an independent numerical integral over the
panel's surface. Each picture carries its numbers in its metadata, so that a test can tell when it is out of date.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from treatment.acoustics.edge_waves import BRINK, over_edges
from treatment.acoustics.fresnel import patch_shares
from treatment.present.palette import (
    AFTER, BEFORE, INK, KEEP_OUT, LOUDSPEAKER, MUTED, PANEL, PANEL_EDGE, PAPER, RULE, SEAT, TARGET, WALL,
)  # fmt: skip

C = 343.0
#: Loudspeaker and seat 3 m apart, both 1 m from the wall; the specular point lies half-way.
SOURCE, SEAT_AT = np.array([0.0, 0.0, 1.0]), np.array([3.0, 0.0, 1.0])
LEGS = np.hypot(1.5, 1.0)
SIZES = {"0.6 x 1.2 m": (0.6, 1.2), "1.2 x 1.2 m": (1.2, 1.2), "1.8 x 1.2 m": (1.8, 1.2)}
BANDS = (500, 1000, 2000, 4000, 8000)
ABSORBED = np.sqrt(1.0 - 0.9)
STYLE = {
    "font.family": "sans-serif", "font.sans-serif": ["Helvetica", "Arial", "Liberation Sans", "DejaVu Sans"],
    "font.size": 9.0, "axes.edgecolor": RULE, "axes.labelcolor": INK, "axes.facecolor": PAPER,
    "figure.facecolor": PAPER, "xtick.color": INK, "ytick.color": INK, "text.color": INK,
    "svg.fonttype": "none", "svg.hashsalt": "patches", "axes.spines.top": False, "axes.spines.right": False,
}  # fmt: skip


def octave(band: float, count: int = 9) -> np.ndarray:
    """Frequencies that stand for an octave, evenly on a logarithmic axis."""
    return band * 2.0 ** ((np.arange(count) + 0.5) / count - 0.5)


def share(size: tuple[float, float], frequency: np.ndarray) -> np.ndarray:
    """The program's share of a panel centred on the specular point, shape (f,)."""
    half = np.array(size) / 2.0
    rectangle = np.array([[1.5 - half[0], -half[1], 1.5 + half[0], half[1]]])
    return patch_shares(
        np.array([[1.5, 0.0]]), np.array([[1.0, 0.0]]), np.array([1.0 / LEGS]), np.array([LEGS]),
        np.array([LEGS]), rectangle, C, frequency,
    )[0]  # fmt: skip


def integral(size: tuple[float, float], frequency: float) -> complex:
    """Kirchhoff's integral over the same panel, point by point (Born & Wolf 8.3.2 (17))."""
    k = 2.0 * np.pi * frequency / C
    x, w = np.polynomial.legendre.leggauss(8)

    def nodes(middle: float, long: float) -> tuple[np.ndarray, np.ndarray]:
        pieces = int(np.ceil(max(6.0, long * frequency / C * 8.0) / 8.0))
        step = long / pieces
        at = middle - long / 2.0 + (np.arange(pieces)[:, None] + (x + 1.0) / 2.0) * step
        return at.ravel(), np.tile(w * step / 2.0, pieces)

    (u, wu), (v, wv) = nodes(1.5, size[0]), nodes(0.0, size[1])
    r1 = np.sqrt(u[:, None] ** 2 + v**2 + 1.0)
    r2 = np.sqrt((u[:, None] - 3.0) ** 2 + v**2 + 1.0)
    wave = np.exp(-1j * k * (r1 + r2)) / (r1 * r2) * (1.0 / r1 + 1.0 / r2)
    total = np.einsum("ij,i,j->", wave, wu, wv) * 1j * k / (4.0 * np.pi)
    return complex(total / (np.exp(-2j * k * LEGS) / (2.0 * LEGS)))


def decibels(share_of_panel: np.ndarray) -> float:
    """What a panel of absorption 0.9 on a hard wall does to the level, mean over the frequencies."""
    return float(10.0 * np.log10(np.mean(np.abs(1.0 + (ABSORBED - 1.0) * share_of_panel) ** 2)))


def panel_levels() -> dict[str, dict[str, list[float]]]:
    """Levels by octave for each size: by the program, and by the surface integral."""
    return {
        name: {
            "model": [decibels(share(size, octave(b))) for b in BANDS],
            "integral": [decibels(np.array([integral(size, f) for f in octave(b)])) for b in BANDS],
        }
        for name, size in SIZES.items()
    }


def edge_levels() -> dict[str, list[float]]:
    """Level of a reflection, dB, whose point lies so far (mm) inside an endless edge; negative: beyond."""
    inside = np.linspace(-1000.0, 1500.0, 251)
    found = {"inside_mm": inside.tolist()}
    h = inside / 1000.0
    n = len(h)
    a, b = np.tile([0.0, -2.0, 0.0], (n, 1)), np.tile([0.0, 3.0, 0.0], (n, 1))
    ends = np.zeros((n, 2, 3))
    ends[:, :, 0], ends[:, :, 2] = h[:, None], [-900.0, 900.0]
    for band in (250, 1000, 4000):
        wave = over_edges(a, b, ends, 2.0 * np.pi * octave(band) / C)
        left = np.where(h[:, None] > 0.0, 1.0 - wave, wave)
        found[str(band)] = (10.0 * np.log10(np.mean(np.abs(left) ** 2, axis=1))).tolist()
    return found


def _figure(width: float, height: float):
    figure = Figure(figsize=(width, height), layout="constrained")
    return figure, figure.add_subplot()


def _save(figure: Figure, path: Path, title: str, numbers: object) -> None:
    text = json.dumps(numbers, default=float)
    metadata = {"Title": title, "Description": text, "Date": None, "Creator": None, "Format": None, "Type": None}
    figure.savefig(path, format="svg", metadata=metadata)
    path.write_text("\n".join(x.rstrip() for x in path.read_text("utf-8").splitlines()) + "\n", "utf-8")


def draw_zones(path: Path) -> None:
    """The first Fresnel zones on a wall with a panel, seen from the room."""
    figure, ax = _figure(7.0, 3.5)
    u, v = np.meshgrid(np.linspace(-0.5, 3.5, 401), np.linspace(-1.1, 1.3, 241))
    detour = np.sqrt(u**2 + v**2 + 1.0) + np.sqrt((u - 3.0) ** 2 + v**2 + 1.0) - 2.0 * LEGS
    ax.add_patch(Rectangle((-0.5, -1.1), 4.0, 2.4, facecolor=WALL, edgecolor=RULE))
    ax.add_patch(Rectangle((1.2, -0.6), 0.6, 1.2, facecolor=PANEL, edgecolor=PANEL_EDGE, alpha=0.9))
    widths = {}
    for f, colour, dash in ((500, BEFORE, "-"), (1000, KEEP_OUT, "--"), (2000, AFTER, "-."), (4000, INK, ":")):
        ax.contour(u, v, detour, levels=[C / f / 2.0], colors=[colour], linestyles=[dash], linewidths=1.6)
        # Half-way between both: each leg may be a quarter of a wavelength longer.
        height = float(np.sqrt((LEGS + C / f / 4.0) ** 2 - LEGS**2))
        widths[str(f)] = round(2.0 * height, 3)
        label = f"{f} Hz" if f < 1000 else f"{f // 1000} kHz"
        ax.plot([], [], dash, color=colour, lw=1.6, label=f"{label}: {2.0 * height:.2f} m high")
    ax.plot(1.5, 0.0, "+", color=INK, ms=9, mew=1.5)
    ax.annotate("specular point", (1.5, 0.08), ha="center", fontsize=7, color=INK)
    for x, name, colour, marker in ((0.0, "loudspeaker", LOUDSPEAKER, "s"), (3.0, "seat", SEAT, "o")):
        ax.plot(x, 0.0, marker, color=colour, ms=8)
        ax.annotate(f"{name},\n1 m off\nthe wall", (x, -0.1), ha="center", va="top", fontsize=8)
    ax.annotate("panel 0.6 x 1.2 m", (1.5, 0.64), ha="center", fontsize=8)
    ax.set(aspect="equal", xlim=(-0.5, 3.5), ylim=(-1.1, 1.3), xlabel="along the wall, m", ylabel="height, m")
    ax.legend(loc="upper center", ncols=4, frameon=False, fontsize=7.5, handlelength=2.2, columnspacing=0.9)
    _save(figure, path, "First Fresnel zones on a wall", widths)


def draw_sizes(path: Path, levels: dict[str, dict[str, list[float]]]) -> None:
    """Level of the reflection by band for panels of three sizes and for a wall that is all panel."""
    figure, ax = _figure(6.4, 3.7)
    looks = ((BEFORE, "o", "-"), (KEEP_OUT, "s", "--"), (AFTER, "^", "-."))
    x = np.arange(len(BANDS))
    for (name, found), (colour, marker, dash) in zip(levels.items(), looks, strict=True):
        ax.plot(x, found["model"], dash, color=colour, lw=1.7, label=name)
        ax.plot(x, found["integral"], marker, color=colour, ms=6, mfc=PAPER, mew=1.4)
    ax.plot(x, [-10.0] * len(x), "-", color=TARGET, lw=1.7, label="the whole wall")
    ax.plot([], [], "o", color=MUTED, mfc=PAPER, mew=1.4, ls="none", label="surface integral")
    ax.axhline(0.0, color=RULE, lw=0.8)
    ax.set_xticks(x, ["500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz"])
    ax.set(ylim=(-18, 1.0), ylabel="level of the reflection re a hard wall, dB", xlabel="octave band")
    ax.legend(frameon=False, fontsize=8, loc="lower left")
    _save(figure, path, "What panels of three sizes do to a reflection", levels)


def draw_edge(path: Path, found: dict[str, list[float]]) -> None:
    """How a reflection fades towards the edge of the surface that sends it."""
    figure, ax = _figure(6.4, 3.7)
    inside = np.array(found["inside_mm"])
    looks = {"250": (BEFORE, "-"), "1000": (KEEP_OUT, "--"), "4000": (AFTER, "-.")}
    for band, (colour, dash) in looks.items():
        level = np.array(found[band])
        name = f"{band} Hz" if int(band) < 1000 else f"{int(band) // 1000} kHz"
        ax.plot(inside[inside >= 0.0], level[inside >= 0.0], dash, color=colour, lw=1.7, label=name)
        ax.plot(inside[inside <= 0.0], level[inside <= 0.0], dash, color=colour, lw=1.2, alpha=0.35)
    ax.axvspan(-1000.0, 0.0, color=WALL, zorder=0)
    ax.axvline(0.0, color=INK, lw=1.0)
    ax.plot([0.0], [-6.02], "o", color=INK, ms=5)
    ax.annotate("-6 dB on the edge", (0.0, -6.02), (90.0, -8.6), fontsize=8, arrowprops={"arrowstyle": "-", "color": MUTED})
    ax.annotate("beyond the edge:\nsound still bends there,\nbut no path is listed", (-940.0, 0.6), va="center", fontsize=8)
    ax.annotate(
        f"last {1000 * BRINK:.0f} mm: ten decibels more,\nso that nothing jumps where the list ends",
        (10.0, -14.0), (90.0, -13.6), fontsize=8, va="center", arrowprops={"arrowstyle": "-", "color": MUTED},
    )  # fmt: skip
    ax.axvspan(0.0, 1000 * BRINK, color=RULE, zorder=0)
    ax.axhline(0.0, color=RULE, lw=0.8)
    ax.set(xlim=(-1000, 1500), ylim=(-20, 3), ylabel="share of the reflection, dB")
    ax.set_xlabel("specular point: mm inside the edge; legs 2 m and 3 m")
    ax.legend(frameon=False, fontsize=8, loc="lower right")
    _save(figure, path, "A reflection at the edge of its surface", {k: v[::10] for k, v in found.items()})


def main(folder: Path) -> None:
    """Write the three pictures into a folder."""
    with rc_context(STYLE):
        draw_zones(folder / "patches-zones.svg")
        draw_sizes(folder / "patches-sizes.svg", panel_levels())
        draw_edge(folder / "edges-fading.svg", edge_levels())


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
