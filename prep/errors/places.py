"""Faults of regions of a part's skin."""

from __future__ import annotations

from prep.errors.base import PrepError


class NoSuchRegion(PrepError):
    """A region in the recipe covers no skin that is seen from outside, or all of it. Either way it has no edge."""

    code = "no-such-region"


class NoColours(PrepError):
    """A region is asked for by colour. The part's file has no colours, or none like that one."""

    code = "no-colours"
