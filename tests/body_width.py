"""The width of a body over all orientations: with it the minimum zone is compared."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.core.rounding import NOISE, SAME


def body_width(points: Any) -> tuple[float, Any]:
    """Least distance of two parallel planes that hold the body, over all orientations; and their normal.

    Exact: over every face against the vertices and every pair of opposed edges of the convex hull.  Work grows
    with the square of the hull's edges (a thousand points, all on the hull: well under a second).
    """
    from scipy.spatial import ConvexHull

    points = np.asarray(points, float)
    centred = points - points.mean(axis=0)
    _, spread, axes = np.linalg.svd(centred, full_matrices=False) if len(points) >= 3 else (0, np.zeros(3), np.eye(3))
    if len(points) < 4 or spread[2] <= 1e-13 * spread[0]:
        return 0.0, axes[2]
    hull = ConvexHull(centred)
    vertices = centred[hull.vertices]
    normals = hull.equations[:, :3]
    best, normal = np.inf, normals[0]
    for rows in np.array_split(normals, 1 + len(normals) * len(vertices) // 4_000_000):
        r = rows @ vertices.T
        reach = r.max(axis=1) - r.min(axis=1)
        least = int(reach.argmin())
        if reach[least] < best:
            best, normal = float(reach[least]), rows[least]
    start, along, apexes, middle, half = _hull_edges(centred, hull)
    size = np.abs(centred).max()
    for i in range(len(start) - 1):
        # the planes that rest on an edge turn through an arc about it; two arcs must meet for a pair to be opposed
        turn = half[i] + half[i + 1 :]
        other = i + 1 + np.flatnonzero(-(middle[i + 1 :] @ middle[i]) >= np.cos(np.minimum(turn, np.pi)) - SAME)
        n = np.cross(along[i], along[other])
        length = np.linalg.norm(n, axis=1)
        other, n = other[length > NOISE * size**2], n[length > NOISE * size**2]
        n /= np.linalg.norm(n, axis=1)[:, None]
        gap = np.einsum("ij,ij->i", n, start[i] - start[other])
        n = np.where(gap < 0, -1.0, 1.0)[:, None] * n
        above = (n @ (apexes[i] - start[i]).T).max(axis=1, initial=-np.inf)
        below = np.einsum("ij,ikj->ik", n, apexes[other] - start[other][:, None]).min(axis=1, initial=np.inf)
        for k in np.flatnonzero((np.abs(gap) < best) & (above <= SAME * size) & (below >= -SAME * size)):
            reach = float(np.ptp(vertices @ n[k]))  # any orientation is an upper bound, so a doubtful pair does no harm
            if reach < best:
                best, normal = reach, n[k]
    return best, normal if normal[2] >= 0 else -normal


def _hull_edges(points: Any, hull: Any) -> tuple[Any, Any, Any, Any, Any]:
    """Each edge once: a point, the direction, the far corners of its two triangles, the arc of its planes."""
    faces, neighbours, normals = hull.simplices, hull.neighbors, hull.equations[:, :3]
    face, corner = np.divmod(np.arange(3 * len(faces)), 3)
    across = neighbours[face, corner]
    bend = np.linalg.norm(normals[face] - normals[across], axis=1)
    once = (face < across) & (bend > NOISE)  # an edge inside a flat face is none
    face, corner, across, bend = face[once], corner[once], across[once], bend[once]
    a, b = faces[face, (corner + 1) % 3], faces[face, (corner + 2) % 3]
    far = faces[across]
    other = far[(far != a[:, None]) & (far != b[:, None])]
    middle = normals[face] + normals[across]
    middle /= np.maximum(np.linalg.norm(middle, axis=1), 1e-300)[:, None]
    apexes = np.stack([points[faces[face, corner]], points[other]], axis=1)
    return points[a], points[b] - points[a], apexes, middle, np.arcsin(np.minimum(bend / 2, 1.0))
