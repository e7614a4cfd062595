"""`orient`: triangles wound so that neighbours agree, within each connected piece."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from prep.errors import OneSided
from prep.geometry.edges import Edges

Triangles = NDArray[np.int64]


def orient(triangles: Triangles, edges: Edges) -> tuple[Triangles, int]:
    """The triangles with the fewest of each piece turned over so that all of it agrees.

    Parameters
    ----------
    triangles : (m, 3) int64
    edges : Edges
        Of these triangles. Edges shared by two triangles join a piece; others part it.

    Returns
    -------
    triangles : (m, 3) int64
    turned : int
        How many were turned over.

    Raises
    ------
    OneSided
        A piece has only one side.

    Notes
    -----
    Every triangle appears twice in a graph, as it is and turned over; neighbours are joined in the two ways in which
    they agree. A piece falls into two halves, mirror images of one another, and the half with more triangles as they
    are is taken. One search for connected components, no walk from triangle to triangle.
    """
    m = len(triangles)
    order = np.argsort(edges.of_side, kind="stable")
    order = order[(edges.uses == 2)[edges.of_side[order]]]
    left, right = order[0::2], order[1::2]
    agrees = edges.runs_forward[left] != edges.runs_forward[right]
    a, b = left // 3, right // 3
    twin = np.where(agrees, b, b + m)
    mirrored = np.where(agrees, b + m, b)
    graph = coo_matrix(
        (np.ones(2 * len(a), dtype=bool), (np.concatenate([a, a + m]), np.concatenate([twin, mirrored]))),
        shape=(2 * m, 2 * m),
    )
    count, label = connected_components(graph, directed=False)
    plain, turned = label[:m], label[m:]
    if (plain == turned).any():
        raise OneSided(
            "part of the surface has only one side, so it has no inside",
            found=f"{int((plain == turned).sum())} of {m} triangles in such pieces",
            fix="mend the part where it was modelled: look for a face joined back to front",
        )
    votes = np.bincount(plain, minlength=count)
    against = np.bincount(turned, minlength=count)
    # the half that holds more triangles as they are; a draw goes to the half of the lower number
    flip = (votes[plain] < against[plain]) | ((votes[plain] == against[plain]) & (plain > turned))
    wound = np.where(flip[:, None], triangles[:, ::-1], triangles)
    return wound, int(flip.sum())
