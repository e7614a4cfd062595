"""`step_graph`: which step waits for which."""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx

from prep.contract import Step


def step_graph(steps: Sequence[Step]) -> nx.DiGraph[int]:
    """A directed graph over step numbers, counted from 0; an edge runs from a step to one that waits for it.

    Steps wait for the step before them that changed a part they change or look at. A step that reads the whole model
    waits for every step before it, and every step after it waits for it.
    """
    graph: nx.DiGraph[int] = nx.DiGraph()
    last_on: dict[str, int] = {}
    readers: list[int] = []
    for number, step in enumerate(steps):
        graph.add_node(number)
        looked_at = (*step.changes(), *step.reads())
        earlier = set(range(number)) if step.whole_model else {last_on[name] for name in looked_at if name in last_on}
        graph.add_edges_from((before, number) for before in earlier)
        graph.add_edges_from((before, number) for before in readers)
        for name in step.changes():
            last_on[name] = number
        if step.whole_model:
            readers.append(number)
    return graph


def running_order(graph: nx.DiGraph[int]) -> list[int]:
    """Steps in an order that keeps every wait; as written wherever the graph leaves the choice."""
    return list(nx.lexicographical_topological_sort(graph))
