"""What is painted once and kept: it must look the same as if it were painted anew, and hide nothing."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from treatment.present.forms import Face
from treatment.present.native import paint
from treatment.present.native.card import Card
from treatment.present.native.desk import Desk
from treatment.present.native.meshes import ball, lines_mesh, soup_of
from treatment.present.native.veil import used_boxes


def drawn(*heights: float) -> np.ndarray:
    card = Card((120, 90), 1.5, "#ffffff")
    for k, y in enumerate((2.0, 22.0, 42.0)):
        if heights:
            card.strip(heights[k])
        card.area((2.0, y, 60.0, y + 15.0), "#246985", radius=4.0)
        card.line([(2.0, y), (70.0, y + 15.0)], "#a24006", 1.6, alpha=0.7)
        card.marks([(65.0, y + 6.0), (72.0, y + 9.0)], 3.0, "#ffffff", "#111a20")
        card.text(8.0, y + 2.0, f"row {k}", 10.0)
    return card.pixels()


def test_a_card_in_strips_looks_like_one_in_one_piece() -> None:
    whole, parts = drawn().astype(int), drawn(0.0, 20.0, 40.0).astype(int)
    assert whole.shape == parts.shape == (90, 120, 4)
    assert np.abs(whole - parts).max() <= 1
    assert (whole[..., :3] < 200).any(axis=2).mean() > 0.1


def test_only_what_changes_is_painted_again(make_desk: Callable[..., Desk]) -> None:
    paint.painted.cache_clear()
    desk = make_desk()
    desk.side().pixels()
    strips = paint.painted.cache_info().misses
    desk.act("colouring")
    desk.side().pixels()
    # Its own row, and nothing else: the charts do not depend on the colours of the paths.
    assert paint.painted.cache_info().misses == strips + 1
    desk.act("colouring")
    desk.side().pixels()
    assert paint.painted.cache_info().misses == strips + 1


def test_boxes_hold_all_that_is_painted_once() -> None:
    rng = np.random.default_rng(5)
    picture = np.zeros((130, 205, 4), dtype=np.uint8)
    for _ in range(9):
        row, column = rng.integers(0, 120), rng.integers(0, 195)
        picture[row : row + 23, column : column + 31, 3] = 255
    cover = np.zeros(picture.shape[:2], dtype=int)
    for left, low, right, high in used_boxes(picture):
        cover[low:high, left:right] += 1
    assert cover.max() == 1
    assert (cover[picture[..., 3] > 0] == 1).all()
    assert cover.mean() < 0.8
    assert used_boxes(np.zeros_like(picture)) == []


def test_a_ball_has_its_volume() -> None:
    """Divergence theorem: a closed surface of outward triangles holds sum(a . (b x c)) / 6."""
    a, b, c = np.moveaxis(ball(np.array([1.0, 2.0, 3.0]), 0.1, "#336699").points.reshape(-1, 3, 3), 1, 0)
    volume = float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0
    # Twenty slices lie inside of the sphere and hold a few per cent less.
    assert volume == pytest.approx(4.0 / 3.0 * np.pi * 0.1**3, rel=0.04)


def test_triangles_keep_area_and_side() -> None:
    ring = np.array([[0.0, 0, 1], [3, 0, 1], [3, 2, 1], [1, 2, 1], [1, 1, 1], [0, 1, 1]])
    hole = np.array([[2.0, 0.5, 1], [2.5, 0.5, 1], [2.5, 1.5, 1], [2, 1.5, 1]])
    for sense in (1.0, -1.0):
        face = Face((ring, hole), np.array([0.0, 0.0, sense]), "#808080", 1.0, "floor", "room")
        a, b, c = np.moveaxis(soup_of([face]).points.reshape(-1, 3, 3), 1, 0)
        cross = np.cross(b - a, c - a)
        assert (cross[:, 2] * sense > 0.0).all()
        assert np.abs(cross[:, 2]).sum() / 2.0 == pytest.approx(5.0 - 0.5)


def test_a_mesh_of_lines_has_its_points() -> None:
    points = np.arange(15.0).reshape(5, 3)
    mesh = lines_mesh(points, np.array([2, 3]), np.array([[1, 2, 3], [4, 5, 6]], dtype=np.uint8))
    assert (mesh.GetNumberOfCells(), mesh.GetNumberOfPoints()) == (2, 5)
    ends = [mesh.GetCell(k).GetPointId(n) for k, n in ((0, 1), (1, 0), (1, 2))]
    assert ends == [1, 2, 4]
    assert mesh.GetPoint(3) == tuple(points[3])
    assert [mesh.GetPointData().GetScalars().GetTuple(k)[0] for k in (1, 2)] == [1.0, 4.0]
