"""Faults of solids and of places on them."""

from __future__ import annotations

from prep.errors.base import PrepError


class NotASolid(PrepError):
    """The triangles do not bound a volume: edges are open, shared by three, or wound both ways."""

    code = "not-a-solid"


class EmptySolid(PrepError):
    """An operation left nothing, or was given nothing."""

    code = "empty-solid"


class KernelRefused(PrepError):
    """The solid kernel refused the triangles or the operation, and named a cause."""

    code = "kernel-refused"


class ContractBroken(PrepError):
    """A step did something else than it predicted: shells, genus, volume, bounds or a sealed void."""

    code = "contract-broken"
    exit_status = 70


class PartsApart(PrepError):
    """Two parts that should share a seam do not touch anywhere."""

    code = "parts-apart"


class NoSuchPlace(PrepError):
    """A place in the recipe finds no surface: the ray misses, or no flat faces that way."""

    code = "no-such-place"


class ShellOneSided(PrepError):
    """A process has walls without skins or skins without walls, so the thickness of the printed shell is unknown."""

    code = "shell-one-sided"
