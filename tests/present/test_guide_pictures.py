"""Pictures of the guide: each one that is shown is there, is small, and every one that is there is shown."""

import re
from pathlib import Path

import pytest

GUIDE = Path(__file__).parents[2] / "docs" / "guide"
PAGES = sorted(GUIDE.glob("*.md"))
SHOWN = [
    (p.name, words, n)
    for p in PAGES
    for words, n in re.findall(r"!\[([^]]*)\]\(([^)]+)\)", p.read_text("utf-8"))
]


@pytest.mark.parametrize(("page", "words", "name"), SHOWN)
def test_a_picture_is_there_and_small(page, words, name):
    path = GUIDE / name
    assert path.is_file(), page
    assert path.stat().st_size < 200_000
    assert len(words) > 10  # words for those who do not see it


def test_no_picture_lies_about():
    shown = {Path(name).name for _, _, name in SHOWN}
    assert len(shown) >= 6
    assert {p.name for p in (GUIDE / "pictures").iterdir()} <= shown
