"""Floor 5. Checks, one a file; this page finds them, so adding one edits nothing else.

What lives here: settings and `examine` of one check a file, named by its word.
What may be imported: everything below; pydantic. Checks never import one another, nor a step.
What must not come in: geometry that another check could use (it belongs one floor down).
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from prep.contract import Check


@cache
def all_checks() -> dict[str, type[Check]]:
    """Every check by its word, in alphabetical order."""
    found: dict[str, type[Check]] = {}
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda module: module.name):
        namespace = vars(importlib.import_module(f"{__name__}.{module.name}"))
        for thing in namespace.values():
            if isinstance(thing, type) and issubclass(thing, Check) and thing.__module__.endswith(f".{module.name}"):
                found[thing.word()] = thing
    return found
