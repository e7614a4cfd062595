"""One way of printing each quantity for people."""

from __future__ import annotations


def _shown(value: float) -> str:
    """Two decimals, or two significant figures under 0.1; never a negative zero."""
    if value == 0.0 or abs(value) >= 0.1:
        return f"{round(value, 2) + 0.0:.2f}"
    return f"{value:.2g}"


def show_mm(value: float) -> str:
    """A length for people, from mm."""
    return f"{_shown(value)} mm"


def show_mm3(value: float) -> str:
    """A volume for people, from mm3."""
    return f"{_shown(value)} mm³"


def show_g(value: float) -> str:
    """A mass for people, from g."""
    return f"{_shown(value)} g"


def show_n(value: float) -> str:
    """A force for people, from N."""
    return f"{_shown(value)} N"


def show_deg(value: float) -> str:
    """An angle for people, from degrees."""
    return f"{_shown(value)} deg"


def show_percent(share: float) -> str:
    """A share for people, from a share of 1."""
    return f"{_shown(share * 100.0)} %"


def show_point(values: tuple[float, float, float]) -> str:
    """A point for people, from mm."""
    x, y, z = (round(value, 1) + 0.0 for value in values)
    return f"({x:.1f}, {y:.1f}, {z:.1f}) mm"
