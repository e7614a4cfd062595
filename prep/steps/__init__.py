"""Floor 5. Finishing steps, one a file; this page finds them, so adding one edits nothing else.

What lives here: settings and `apply` of one step a file, named by its word.
What may be imported: everything below; pydantic. Steps never import one another, nor a check.
What must not come in: geometry that another step could use (it belongs one floor down).
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from prep.contract import Step


@cache
def all_steps() -> dict[str, type[Step]]:
    """Every step by its word, in alphabetical order."""
    found: dict[str, type[Step]] = {}
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda module: module.name):
        namespace = vars(importlib.import_module(f"{__name__}.{module.name}"))
        for thing in namespace.values():
            if isinstance(thing, type) and issubclass(thing, Step) and thing.__module__.endswith(f".{module.name}"):
                found[thing.word()] = thing
    return found
