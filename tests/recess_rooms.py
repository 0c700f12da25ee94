"""Two rooms with recesses, corner by corner by hand: the oracle of what the makers of recesses make.

A box of 5.0 x 3.8 x 2.4 m with a niche in its right wall, and an attic of 5.0 x 4.2 m, 45 degrees from
knee walls of 1.0 m up to a level strip at 2.4 m, with a flat dormer in the slope on the left. A wall with
a hole is drawn as the four pieces round it. The rooms are invented.
"""

import math

R = math.sqrt(0.5)


def niche_room():
    """Vertices, and faces by surface: corner numbers from 0."""
    low = [(0, 0), (5, 0), (5, 3.8), (0, 3.8)]
    vertices = [(*xy, 0.0) for xy in low] + [(*xy, 2.4) for xy in low]
    # The mouth, 8 to 11, and the back, 12 to 15: from low x, low z on.
    mouth = [(2.0, 0.9), (3.2, 0.9), (3.2, 1.9), (2.0, 1.9)]
    vertices += [(x, 3.8, z) for x, z in mouth] + [(x, 4.15, z) for x, z in mouth]
    faces = {
        "front": [(3, 0, 4, 7)],
        "back": [(1, 2, 6, 5)],
        "left": [(0, 1, 5, 4)],
        "right": [(3, 2, 9, 8), (2, 6, 10, 9), (6, 7, 11, 10), (7, 3, 8, 11)],
        "floor": [(0, 3, 2, 1)],
        "ceiling": [(4, 5, 6, 7)],
        "niche-back": [(12, 13, 14, 15)],
        "niche-left": [(8, 11, 15, 12)],
        "niche-right": [(9, 10, 14, 13)],
        "niche-bottom": [(8, 9, 13, 12)],
        "niche-top": [(11, 10, 14, 15)],
    }
    return vertices, faces


def dormer_room():
    """Vertices, and faces by surface: corner numbers from 0."""
    # Sections at the front, 0 to 5, and at the back, 6 to 11: floor, knee, fold, fold, knee, floor.
    section = [(0, 0), (0, 1.0), (1.4, 2.4), (2.8, 2.4), (4.2, 1.0), (4.2, 0)]
    vertices = [(0.0, *yz) for yz in section] + [(5.0, *yz) for yz in section]
    # The mouth, 12 to 15: 0.3 m to 1.5 m up the slope; the top of the front, 16 and 17.
    y0, y1 = 0.3 * R, 1.5 * R
    vertices += [(2.0, y0, 1 + y0), (3.2, y0, 1 + y0), (3.2, y1, 1 + y1), (2.0, y1, 1 + y1)]
    vertices += [(2.0, y0, 1 + y1), (3.2, y0, 1 + y1)]
    faces = {
        "left": [(0, 6, 7, 1)],
        "back": [(6, 7, 8, 9, 10, 11)],
        "right": [(5, 11, 10, 4)],
        "front": [(0, 1, 2, 3, 4, 5)],
        "floor": [(0, 5, 11, 6)],
        "ceiling": [(2, 8, 9, 3)],
        "slope-left": [(1, 7, 13, 12), (7, 8, 14, 13), (8, 2, 15, 14), (2, 1, 12, 15)],
        "slope-right": [(4, 10, 9, 3)],
        "dormer-front": [(12, 13, 17, 16)],
        "dormer-right": [(12, 16, 15)],
        "dormer-left": [(13, 17, 14)],
        "dormer-top": [(15, 14, 17, 16)],
    }
    return vertices, faces
