"""Keep stdout for what we say: a library below that prints is sent to stderr."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator


@contextlib.contextmanager
def stdout_kept() -> Iterator[None]:
    """While it lasts, everything written to the process's stdout, by compiled code too, goes to stderr."""
    sys.stdout.flush()
    kept = os.dup(1)
    os.dup2(2, 1)
    try:
        yield
    finally:
        sys.stdout.flush()
        _flush_compiled()
        os.dup2(kept, 1)
        os.close(kept)


def _flush_compiled() -> None:
    """Empty the buffers of compiled code, which would otherwise come out after stdout is ours again."""
    import ctypes

    with contextlib.suppress(OSError, AttributeError):
        (ctypes.CDLL(None) if os.name != "nt" else ctypes.CDLL("ucrtbase")).fflush(None)
