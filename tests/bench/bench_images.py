"""Image sources: our time over pyroomacoustics' time on the same rooms, in the same run, one thread each.

    .venv/bin/python tests/bench/bench_images.py

Rooms are prisms over regular polygons with every other corner drawn in (stars), so that they are not convex.
"""

import time

import numpy as np
import pyroomacoustics as pra

from treatment.acoustics.bounces import bounces_of
from treatment.acoustics.fresnel import SAMPLE_HZ
from treatment.acoustics.image_sources import find_paths
from treatment.acoustics.rim_shares import rim_shares
from treatment.acoustics.screen_shares import screen_shares
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.shapes import extrude

HEIGHT = 2.4


def corners(walls):
    """Floor plan with a number of walls; every third corner is drawn in a little."""
    angle = np.linspace(0, 2 * np.pi, walls, endpoint=False)
    radius = np.where(np.arange(walls) % 3 == 0, 2.6, 3.2)
    return np.column_stack([4 + radius * np.cos(angle), 4 + radius * np.sin(angle)])


def best_of(function, times=3):
    found = []
    for _ in range(times):
        start = time.perf_counter()
        function()
        found.append(time.perf_counter() - start)
    return min(found)


def ours(room, sources, seats, order):
    return best_of(lambda: find_paths(room, sources, seats, order))


def at_edges(room, paths, sources, seats):
    """All that edges leave of the paths, at five frequencies in each of eight octaves."""
    screen_shares(room, paths, sources, seats, 343.0, SAMPLE_HZ.ravel())
    rim_shares(room, bounces_of(room, paths, sources), 343.0, SAMPLE_HZ.ravel())


def theirs(plan, sources, seats, order):
    def run():
        room = pra.Room.from_corners(plan.T, max_order=order, materials=pra.Material(0.1))
        room.extrude(HEIGHT, materials=pra.Material(0.1))
        for s in sources:
            room.add_source(s)
        room.add_microphone_array(seats.T)
        room.image_source_model()

    return best_of(run)


def main():
    rng = np.random.default_rng(5)
    sources = np.column_stack([4 + rng.uniform(-1.5, 1.5, (2, 2)), [1.1, 1.3]])
    seats = np.column_stack([4 + rng.uniform(-1.5, 1.5, (3, 2)), [1.1, 1.1, 1.2]])
    print("surfaces  order   ours s   theirs s   ratio   (2 sources, 3 seats)")
    for surfaces in (8, 20, 60):
        plan = corners(surfaces - 2)
        room = Enclosure(extrude(plan, HEIGHT))
        _ = room.reflex_edges
        for order in (1, 2, 3):
            if surfaces == 60 and order == 3:
                mine = ours(room, sources, seats, order)
                print(f"{surfaces:8d} {order:6d} {mine:8.3f}   (theirs takes minutes here)")
                continue
            mine, other = ours(room, sources, seats, order), theirs(plan, sources, seats, order)
            print(f"{surfaces:8d} {order:6d} {mine:8.3f} {other:10.3f} {mine / other:7.2f}")
    print("growth, eleven sources and six seats:")
    sources = np.column_stack([4 + rng.uniform(-1.5, 1.5, (11, 2)), rng.uniform(0.8, 2.0, 11)])
    seats = np.column_stack([4 + rng.uniform(-1.5, 1.5, (6, 2)), np.full(6, 1.1)])
    print("surfaces  paths at order 1, 2, 3, s    what edges leave of order 2, s")
    for surfaces in (6, 12, 20, 40, 60, 100, 200):
        room = Enclosure(extrude(corners(surfaces - 2), HEIGHT))
        _ = room.reflex_edges, room.rims
        # Order 3 grows with the cube of the surfaces: beyond 60 it is left out.
        times = [ours(room, sources, seats, k) for k in ((1, 2, 3) if surfaces <= 60 else (1, 2))]
        paths = find_paths(room, sources, seats, 2)
        edges = best_of(lambda r=room, p=paths: at_edges(r, p, sources, seats))
        print(f"{surfaces:8d} {' '.join(f'{t:8.3f}' for t in times):27s} {edges:10.3f}   {len(paths)} paths")


if __name__ == "__main__":
    main()
