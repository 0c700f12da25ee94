"""Colours that must be told apart, as people with each of the three kinds of colour blindness see them.

Simulation: Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision
deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, at full severity, as the library colorspacious
computes it. Difference: CAM02-UCS (Luo, Cui and Li, Color Res. Appl. 31 (2006) 320), in which about 1 is
just visible side by side. The least differences asked for here are a choice of our own: colours that stand
apart on a drawing must differ by far more than what is just visible.
Contrast: WCAG 2.1, 1.4.3 (text, 4.5 to 1) and 1.4.11 (graphics, 3 to 1).
"""

from itertools import combinations, pairwise

import numpy as np
import pytest

from treatment.present import palette
from treatment.present.palette import DARK, LIGHT, rgb
from treatment.present.themes import colours_css, theme_script, theme_script_hash

KINDS = ("plain", "protanomaly", "deuteranomaly", "tritanomaly")
#: Series of one chart: thin lines and small marks.
CHART, CHART_LEAST = ("before", "after", "target"), 18.0
#: Things of one drawing: fills and solids of some size, each with a name.
DRAWING, DRAWING_LEAST = (
    ("panel", "keep-out", "opening", "obstacle", "loudspeaker", "subwoofer", "seat"),
    12.0,
)
#: Stops of the scale of levels, 5 dB apart; those further apart must differ like series.
STOP_LEAST, STOPS_LEAST = 10.0, 20.0


def seen(colours, kind):
    from colorspacious import cspace_convert

    plain = np.array([rgb(c) for c in colours]) / 255.0
    if kind == "plain":
        return plain
    space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
    return np.clip(cspace_convert(plain, space, "sRGB1"), 0.0, 1.0)


def difference(a, b):
    """Least difference of two colours over the four ways of seeing."""
    from colorspacious import deltaE

    return min(float(deltaE(*seen((a, b), kind), input_space="sRGB1")) for kind in KINDS)


def luminance(colour):
    """Relative luminance by the glossary of WCAG 2.1."""
    f = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in np.array(rgb(colour)) / 255.0]
    return float(np.dot(f, [0.2126, 0.7152, 0.0722]))


def contrast(a, b):
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_measures_themselves():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.1, glossary: 1 to 21
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)  # a well-known limit case
    # Machado et al. (2009), table 1, deuteranomaly 1.0: the first row is 0.367322 0.860646 -0.227968, on
    # linear light (from memory); a pure red of 1 keeps 0.367 of its red, a pure green sends 0.861 there.
    for colour, value in (("#ff0000", 0.367322), ("#00ff00", 0.860646)):
        shown = 1.055 * value ** (1 / 2.4) - 0.055
        assert seen([colour], "deuteranomaly")[0, 0] == pytest.approx(shown, abs=2e-3)
    # Red and green of one lightness: far apart for most people, near for some.
    assert difference("#c04a3a", "#6d7d00") < 15.0


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("names", "least"), [(CHART, CHART_LEAST), (DRAWING, DRAWING_LEAST)])
def test_all_pairs_can_be_told_apart(theme, names, least):
    found = {(a, b): difference(theme[a], theme[b]) for a, b in combinations(names, 2)}
    assert {pair: d for pair, d in found.items() if d < least} == {}


def test_the_scale_of_levels_can_be_read():
    stops = [colour for _, colour in palette.LEVEL_SCALE]
    assert min(difference(a, b) for a, b in pairwise(stops)) >= STOP_LEAST
    far = [difference(stops[i], stops[j]) for i, j in combinations(range(len(stops)), 2) if j - i > 1]
    assert min(far) >= STOPS_LEAST
    for colour in stops:
        assert contrast(colour, palette.WALL) >= 3.0


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_contrast(theme):
    grounds = [theme["paper"], theme["card"]]
    for text in ("ink", "muted", "accent", "target-text", "keep-out-text", "wrong", "warn"):
        for ground in (*grounds, theme["caution"]) if text == "ink" else grounds:
            assert contrast(theme[text], ground) >= 4.5, (text, ground)
    assert contrast(theme["on-accent"], theme["accent"]) >= 4.5
    # Lines, marks and edges; fills without a contrast of their own have an edge of ink or of their own.
    for mark in ("before", "after", "target", "keep-out", "seat", "loudspeaker", "subwoofer", "panel-edge"):
        for ground in (theme["paper"], theme["wall"]):
            assert contrast(theme[mark], ground) >= 3.0, (mark, ground)
    for ground in (theme["paper"], theme["field"]):
        assert contrast(theme["edge"], ground) >= 3.0


def test_drawings_and_pages_have_the_same_colours():
    for name in (*CHART, *DRAWING, "ink", "muted", "paper", "wall"):
        assert LIGHT[name] == getattr(palette, name.upper().replace("-", "_"))
    assert LIGHT.keys() == DARK.keys()


def test_print_is_always_light():
    css = colours_css()
    outside = css[: css.index("@media")]
    for name, colour in LIGHT.items():
        assert f"--{name}: {colour};" in outside
    # Every dark rule stands in a rule for screens.
    assert css.count("@media screen") == 2
    assert css.index(DARK["ink"]) > css.index("@media screen")
    assert "@media screen and (prefers-color-scheme: dark)" in css


def test_the_script_is_the_one_that_the_page_allows():
    import base64
    import hashlib

    digest = base64.b64encode(hashlib.sha256(theme_script().encode("utf-8")).digest()).decode()
    assert theme_script_hash() == f"'sha256-{digest}'"
    assert "</" not in theme_script()
