"""Triangles as a modelling program writes them, to one closed surface that faces inwards.

What is safe to mend is mended, and each mend is told: points that are given twice, cracks of a
millimetre, points that lie on the edge of a neighbour, faces without area, faces given twice, loose
faces, faces that are wound the other way. What would be a guess is refused, with its place: a hole,
an edge of three faces, several bodies, a surface with one side only, a body without volume.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.chains import closed_chains
from treatment.geometry.faces import area_vectors, edges_of, open_edges, place_text
from treatment.geometry.polygon import POINT_TOLERANCE

Indices = NDArray[np.intp]

#: Cracks up to this width are closed (m).
CRACK: float = 0.001
#: Edges that are looked at for points on them; a mesh with more open edges has other troubles.
_MOST_OPEN_EDGES = 20_000
#: Told in full; the rest is counted.
_TOLD = 5


@dataclass(frozen=True)
class Fault:
    """Something in a mesh that cannot be mended without a guess.

    Parameters
    ----------
    kind : str
        ``hole``, ``edge-shared``, ``several-shells``, ``one-sided``, ``flat``.
    message : str
        What and where, in m.
    hint : str
        What to do in the modelling program.
    """

    kind: str
    message: str
    hint: str


@dataclass(frozen=True, eq=False)
class Skin:
    """Triangles.

    Parameters
    ----------
    vertices : numpy.ndarray
        Shape (n, 3), m.
    faces : numpy.ndarray
        Indices of corners, shape (m, 3).
    groups : numpy.ndarray
        Index of each face's group, shape (m,).
    mends : tuple of str
        What was mended, in words.
    faults : tuple of Fault
        Why it is no room; empty for a closed surface whose normals point inwards.
    """

    vertices: Array
    faces: Indices
    groups: Indices
    mends: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()


@dataclass
class _Work:
    """The mesh while it is mended."""

    vertices: Array
    faces: Indices
    groups: Indices
    mends: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def keep(self, chosen: NDArray[np.bool_]) -> None:
        self.faces, self.groups = self.faces[chosen], self.groups[chosen]

    def skin(self) -> Skin:
        used, faces = np.unique(self.faces, return_inverse=True)
        return Skin(
            self.vertices[used], faces.reshape(-1, 3), self.groups, tuple(self.mends), tuple(self.faults)
        )


def mend(vertices: Array, faces: Indices, groups: Indices) -> Skin:
    """Mend what is safe, and say what is not.

    Parameters
    ----------
    vertices : numpy.ndarray
        Shape (n, 3), finite, m.
    faces : numpy.ndarray
        Shape (m, 3).
    groups : numpy.ndarray
        Shape (m,).

    Returns
    -------
    Skin
        With its mends, and its faults if there are any.
    """
    work = _Work(vertices, faces, groups)
    _join_points(work)
    _drop_faces(work)
    _close_cracks(work)
    _split_at_points(work)
    size = np.ptp(vertices, axis=0)
    if len(work.faces) < 4 or size.min() < CRACK:
        message = f"the mesh is flat: it is {size[0]:.3f} by {size[1]:.3f} by {size[2]:.3f} m"
        work.faults.append(Fault("flat", message, "export the room as a closed body"))
        return work.skin()
    _drop_loose(work)
    _find_shared_edges(work)
    if not work.faults:
        _find_holes(work)
    if not work.faults:
        _turn(work)
    return work.skin()


def _join_points(work: _Work) -> None:
    grid = np.round(work.vertices / POINT_TOLERANCE).astype(np.int64)
    _, first, label = np.unique(grid, axis=0, return_index=True, return_inverse=True)
    doubles = len(work.vertices) - len(first)
    work.vertices, work.faces = work.vertices[first], label.reshape(-1)[work.faces]
    if doubles:
        work.mends.append(f"{doubles} points that were given twice or more were joined")


def _drop_faces(work: _Work) -> None:
    """Drop faces without area, and all but one of those with the same corners."""
    a, b, c = (work.vertices[work.faces[:, i]] for i in range(3))
    longest = np.max([np.linalg.norm(e, axis=1) for e in (b - a, c - b, a - c)], axis=0)
    area = np.linalg.norm(area_vectors(work.vertices, work.faces), axis=1)
    fat = 2.0 * area > POINT_TOLERANCE * longest
    if not fat.all():
        work.mends.append(f"{int((~fat).sum())} faces without area were left out")
        work.keep(fat)
    _, first = np.unique(np.sort(work.faces, axis=1), axis=0, return_index=True)
    if len(first) < len(work.faces):
        work.mends.append(f"{len(work.faces) - len(first)} faces that were given twice were left out once")
        single = np.zeros(len(work.faces), dtype=bool)
        single[first] = True
        work.keep(single)


def _close_cracks(work: _Work) -> None:
    """Join points of open edges that lie within a crack's width of each other."""
    edges, _ = open_edges(work.faces)
    points = np.unique(edges)
    if len(points) == 0:
        return
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    tree = cKDTree(work.vertices[points])
    if tree.count_neighbors(tree, CRACK) > 50 * len(points):
        return  # so many points within a millimetre are no cracks
    pairs = tree.query_pairs(CRACK, output_type="ndarray")
    if len(pairs) == 0:
        return
    joined = coo_array((np.ones(len(pairs)), pairs.T), shape=(len(points), len(points)))
    _, label = connected_components(joined, directed=False)
    first = np.full(label.max() + 1, -1)
    first[label[::-1]] = np.arange(len(points))[::-1]
    widest = float(np.linalg.norm(np.diff(work.vertices[points[pairs]], axis=1), axis=-1).max())
    target = np.arange(len(work.vertices))
    target[points] = points[first[label]]
    work.faces = target[work.faces]
    work.mends.append(
        f"cracks at {len(points) - int(label.max()) - 1} points were closed, the widest "
        f"{1000.0 * widest:.2f} mm ({1000.0 * CRACK:g} mm is the limit)"
    )
    _drop_faces(work)


def _split_at_points(work: _Work) -> None:
    """Split faces where a point of a neighbour lies on their open edge."""
    splits = 0
    for _ in range(60):
        edges, owner = open_edges(work.faces)
        if len(edges) == 0 or len(edges) > _MOST_OPEN_EDGES:
            break
        from scipy.spatial import cKDTree

        points = np.unique(edges)
        tree = cKDTree(work.vertices[points])
        a, b = work.vertices[edges[:, 0]], work.vertices[edges[:, 1]]
        length = np.linalg.norm(b - a, axis=1)
        near = tree.query_ball_point((a + b) / 2.0, length / 2.0 + CRACK)
        new_faces, new_groups, done = [], [], set()
        for k, found in enumerate(near):
            face = int(owner[k])
            if face in done or len(found) < 3:
                continue
            chosen = points[found]
            along = (work.vertices[chosen] - a[k]) @ (b[k] - a[k]) / length[k]
            off = np.linalg.norm(
                work.vertices[chosen] - a[k] - along[:, None] * (b[k] - a[k]) / length[k], axis=1
            )
            on = (off < CRACK) & (along > CRACK) & (along < length[k] - CRACK)
            on &= ~np.isin(chosen, work.faces[face])
            if not on.any():
                continue
            done.add(face)
            way = [edges[k, 0], *chosen[on][np.argsort(along[on])], edges[k, 1]]
            (tip,) = set(work.faces[face].tolist()) - {int(edges[k, 0]), int(edges[k, 1])}
            new_faces += [(p, q, tip) for p, q in pairwise(way)]
            new_groups += [work.groups[face]] * (len(way) - 1)
            splits += len(way) - 2
        if not done:
            break
        rest = np.ones(len(work.faces), dtype=bool)
        rest[list(done)] = False
        work.faces = np.concatenate([work.faces[rest], np.array(new_faces, dtype=np.intp)])
        work.groups = np.concatenate([work.groups[rest], np.array(new_groups, dtype=np.intp)])
    if splits:
        work.mends.append(f"edges were split at {splits} points that a neighbour has on them")
        _drop_faces(work)


def _pieces(faces: Indices) -> Indices:
    """Number of the connected piece that each face belongs to, shape (m,)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    _, ids = edges_of(faces)
    owner = np.arange(len(ids)) // 3
    # Faces and edges are the nodes: linking faces to faces would explode where thousands share an edge.
    nodes = len(faces) + int(ids.max()) + 1
    table = coo_array((np.ones(len(ids)), (owner, len(faces) + ids)), shape=(nodes, nodes))
    label = connected_components(table, directed=False)[1][: len(faces)]
    return np.asarray(np.unique(label, return_inverse=True)[1], dtype=np.intp).reshape(-1)


def _drop_loose(work: _Work) -> None:
    """Leave out sheets that hang beside the body; refuse several bodies, or one that falls apart."""
    piece = _pieces(work.faces)
    count = int(piece.max()) + 1
    if count == 1:
        return
    _, owner = open_edges(work.faces)
    is_open = np.zeros(count, dtype=bool)
    is_open[piece[owner]] = True
    area = np.bincount(piece, np.linalg.norm(area_vectors(work.vertices, work.faces), axis=1))
    closed = np.flatnonzero(~is_open)
    if len(closed) > 1:
        told = "; ".join(
            place_text(work.vertices[work.faces[piece == p]].reshape(-1, 3))
            for p in closed[np.argsort(-area[closed])][:_TOLD]
        )
        hint = "export the room alone; give posts, soffits and furniture as [[obstacles]] of the scene file"
        work.faults.append(Fault("several-shells", f"the mesh holds {len(closed)} bodies: {told}", hint))
        return
    main = int(closed[0]) if len(closed) else int(area.argmax())
    if len(closed) == 0 and area[main] < 0.5 * area.sum():
        message = (
            f"the mesh falls apart into {count} pieces that share no edge; the largest has "
            f"{area[main]:.2f} of {area.sum():.2f} m2"
        )
        hint = f"gaps are wider than {1000.0 * CRACK:g} mm: join the points in the modelling program"
        work.faults.append(Fault("hole", message, hint))
        return
    loose = piece != main
    told = place_text(work.vertices[work.faces[loose]].reshape(-1, 3))
    work.mends.append(
        f"{int(loose.sum())} loose faces, {area.sum() - area[main]:.3f} m2 at {told}, were left out"
    )
    work.keep(~loose)


def _find_shared_edges(work: _Work) -> None:
    directed, ids = edges_of(work.faces)
    many = np.flatnonzero(np.bincount(ids)[ids] > 2)
    if len(many) == 0:
        return
    _, first = np.unique(ids[many], return_index=True)
    ends = work.vertices[directed[many[first]]]
    told = "; ".join(place_text(e) for e in ends[:_TOLD])
    message = f"more than two faces meet at {len(first)} edges, the first at {told}"
    hint = "a wall inside the room needs a thickness: draw it as a body, or give it as an obstacle"
    work.faults.append(Fault("edge-shared", message, hint))


def _find_holes(work: _Work) -> None:
    edges, _ = open_edges(work.faces)
    if len(edges) == 0:
        return
    loops = closed_chains(edges)
    sized = []
    for loop in loops:
        p = work.vertices[loop]
        vector = 0.5 * np.cross(p - p[0], np.roll(p, -1, axis=0) - p[0]).sum(axis=0)
        sized.append((float(np.linalg.norm(vector)), p))
    sized.sort(key=lambda s: -s[0])
    for area, p in sized[:_TOLD]:
        around = float(np.linalg.norm(np.roll(p, -1, axis=0) - p, axis=1).sum())
        message = f"a hole of {area:.3f} m2, {around:.2f} m around, at {place_text(p)}"
        if len(p) <= 6:
            message += "; its corners are " + ", ".join(f"({x:.3f}, {y:.3f}, {z:.3f})" for x, y, z in p)
        hint = "close it in the modelling program (fill the hole, or draw the missing face)"
        work.faults.append(Fault("hole", message, hint))
    if len(sized) > _TOLD:
        message = f"{len(sized) - _TOLD} more holes, {sum(a for a, _ in sized[_TOLD:]):.3f} m2 together"
        work.faults.append(Fault("hole", message, "close them all: a room without a skin has no volume"))


def _turn(work: _Work) -> None:
    """Wind all faces alike, normals inwards."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order

    directed, ids = edges_of(work.faces)
    order = np.argsort(ids, kind="stable").reshape(-1, 2)
    pair = order // 3
    # Two faces that run along their edge the same way are wound differently.
    differ = directed[order[:, 0], 0] == directed[order[:, 1], 0]
    m = len(work.faces)
    # 1 for alike, 2 for different: a stored zero would be no edge.
    both = np.concatenate([pair, pair[:, ::-1]])
    weight = np.tile(1 + differ, 2)
    _, first = np.unique(both[:, 0] * m + both[:, 1], return_index=True)
    graph = coo_array((weight[first], both[first].T), shape=(m, m)).tocsr()
    walk, parent = breadth_first_order(graph, 0, directed=False)
    turned = np.zeros(m, dtype=bool)
    step = np.asarray(graph[walk[1:], parent[walk[1:]]]).reshape(-1) == 2
    for face, up, other in zip(walk[1:].tolist(), parent[walk[1:]].tolist(), step.tolist(), strict=True):
        turned[face] = turned[up] != other
    if bool(np.any((turned[pair[:, 0]] != turned[pair[:, 1]]) != differ)):
        message = (
            "the mesh has no inside: wound alike, its faces contradict each other, as on a twisted ribbon"
        )
        work.faults.append(Fault("one-sided", message, "draw the room as one closed body again"))
        return
    faces = work.faces.copy()
    faces[turned] = faces[turned][:, ::-1]
    middle = work.vertices.mean(axis=0)
    outward = float(
        np.einsum("ij,ij->", work.vertices[faces[:, 0]] - middle, area_vectors(work.vertices, faces)) / 3.0
    )
    if abs(outward) < 1e-3:
        message = f"the mesh encloses {abs(outward):.4f} m3: two sides of a sheet, or parts that cancel"
        work.faults.append(Fault("flat", message, "export the room as one closed body"))
        return
    if outward > 0.0:
        faces, turned = faces[:, ::-1].copy(), ~turned
    if turned.all():
        work.mends.append("all faces looked outwards: they were turned to look into the room")
    elif turned.any():
        told = place_text(work.vertices[work.faces[turned]].reshape(-1, 3))
        work.mends.append(f"{int(turned.sum())} faces that looked out of the room were turned, at {told}")
    work.faces = faces
