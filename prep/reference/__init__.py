"""Floor 8. What `prep` says about itself, made from models and docstrings so that it cannot go stale.

What lives here: `explain`, the reference pages, the JSON schemas of both files people write, and whether all are fresh.
What may be imported: every floor below, reports excepted; pydantic.
What must not come in: text about a step that its own docstring and settings do not hold.
"""

from prep.reference.explain import explain
from prep.reference.schema import gate_schema, recipe_schema

__all__ = ["explain", "gate_schema", "recipe_schema"]
