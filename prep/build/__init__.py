"""Floor 7. From a recipe to finished parts: graph, keys, store, run, record, and why a step would be redone.

What lives here: the order of steps, holding each to its prediction, what is kept between builds, writing the parts.
What may be imported: everything below; networkx.
What must not come in: what a step or check does, how a result is shown, printing.
"""
