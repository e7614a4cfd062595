"""A bench with a lit box on it, for tests of the checks of light."""

from __future__ import annotations

from dataclasses import replace

from fixtures.benches import bench_of
from fixtures.lit_shells import LitShell
from prep.contract import Bench, Film, Lamp, Ledger, Window


def lit_bench(
    shell: LitShell, material: str = "pla black", films: tuple[Film, ...] = (), half_angle: float = 60.0
) -> Bench:
    """The halves as body and cover, with the lamp in the body and the window in the cover."""
    pane = shell.pane
    lamp = Lamp(
        id="L1", step="house led", part="body", led="round 5 mm white", at_mm=shell.lamp.at_mm, axis=shell.lamp.axis,
        half_angle_deg=half_angle, intensity_cd=1.0, window="W1",
    )  # fmt: skip
    window = Window(
        id="W1", step="house led", part="cover", at_mm=pane.at_mm, out=pane.out, across=pane.across, shape="round",
        half_mm=pane.half_mm, wall_mm=pane.wall_mm, transmits=pane.transmits, depth_mm=pane.depth_mm,
    )  # fmt: skip
    ledger = Ledger(lamps=(lamp,), windows=(window,), films=films)
    bench = bench_of(ledger=ledger, body=shell.halves[0], cover=shell.halves[1])
    row = bench.tables.materials.get(material)
    return replace(bench, parts={name: replace(part, material=row) for name, part in bench.parts.items()})
