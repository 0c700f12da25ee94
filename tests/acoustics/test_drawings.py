"""The pictures of docs/method are those of the present model."""

import importlib.util
import json
import re
from html import unescape
from pathlib import Path

import numpy as np
import pytest

FOLDER = Path(__file__).parents[2] / "docs" / "method"


@pytest.fixture(scope="module")
def drawing():
    spec = importlib.util.spec_from_file_location("draw_patches", FOLDER / "draw_patches.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def numbers_of(name, folder=FOLDER):
    text = re.search(r"<dc:description>(.*?)</dc:description>", (folder / name).read_text("utf-8"), re.S)
    return json.loads(unescape(text[1]))


def test_the_pictures_are_drawn_and_up_to_date(drawing, tmp_path):
    drawing.main(tmp_path)
    names = sorted(p.name for p in tmp_path.iterdir())
    assert names == ["edges-fading.svg", "patches-sizes.svg", "patches-zones.svg"]
    for name in names:
        kept, drawn = (numbers_of(name, folder) for folder in (FOLDER, tmp_path))
        assert kept.keys() == drawn.keys()
        for key in kept:
            pairs = [(kept[key], drawn[key])]
            if isinstance(kept[key], dict):
                pairs = [(kept[key][k], drawn[key][k]) for k in kept[key]]
            for a, b in pairs:
                assert a == pytest.approx(b, abs=0.05)


def test_lines_and_dots_of_the_sizes_agree():
    """Against the surface integral (Born & Wolf 8.3.2 (17)); 1.7 dB at the notch of the large field."""
    found = numbers_of("patches-sizes.svg")
    for name, levels in found.items():
        miss = np.abs(np.subtract(levels["model"], levels["integral"]))
        assert miss.max() < (1.7 if name == "1.8 x 1.2 m" else 1.1)
