"""`hold_to`: a step is held to what it predicted."""

from __future__ import annotations

import numpy as np

from prep.contract import Bench, Outcome, Prediction
from prep.errors import ContractBroken
from prep.geometry.solid import Solid

GROWS_MM = 1e-6


def hold_to(bench: Bench, outcome: Outcome) -> None:
    """Compare every solid an outcome hands back with what the step predicted of it.

    Raises
    ------
    ContractBroken
        A part is handed back without a prediction, or shells, genus, sealed voids, volume or bounds differ.
    """
    predicted = {prediction.part: prediction for prediction in outcome.predictions}
    for name, solid in outcome.solids.items():
        if name not in predicted:
            raise ContractBroken(
                f"the step hands back {name} without saying what it did to it", fix="this is a fault of prep: report it"
            )
        wrong = differences(bench.parts[name].solid, solid, predicted[name])
        if wrong:
            raise ContractBroken(
                f"the step did not do to {name} what it predicted",
                found="; ".join(wrong),
                fix="move the feature a little (a face may lie exactly in another); if it stays, report it",
            )


def differences(before: Solid, after: Solid, predicted: Prediction) -> list[str]:
    """What of a prediction did not come true, in words; empty when all did."""
    was, now = before.topology, after.topology
    wrong = [
        f"{word} {got:+d}, predicted {wanted:+d}"
        for word, got, wanted in (
            ("shells", now.shells - was.shells, predicted.shells),
            ("genus", now.genus - was.genus, predicted.genus),
            ("sealed voids", now.sealed_voids - was.sealed_voids, predicted.sealed_voids),
        )
        if got != wanted
    ]
    change = after.volume_mm3 - before.volume_mm3
    if abs(change - predicted.volume_mm3) > predicted.volume_tolerance_mm3:
        wrong.append(
            f"volume {change:+.3f} mm3, predicted {predicted.volume_mm3:+.3f} ± {predicted.volume_tolerance_mm3:.3f}"
        )
    outside = np.maximum(before.bounds_mm[0] - after.bounds_mm[0], after.bounds_mm[1] - before.bounds_mm[1]).max()
    if outside > GROWS_MM and not predicted.grows:
        wrong.append(f"bounds grew by {outside:.6f} mm, predicted none")
    return wrong
