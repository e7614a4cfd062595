"""`survey_text`: what was measured on meshes, as plain lines for a terminal, in the words of a recipe."""

from __future__ import annotations

from prep.build.survey import SurveyedPart, SurveyReport
from prep.report.check_text import fault_lines
from prep.report.wording import figure, place

INDENT = "  "


def survey_text(report: SurveyReport) -> str:
    """Size, mass, walls, flats, voids and seams; plain text without markup, control characters left out."""
    lines: list[str] = []
    for name, part in report.parts.items():
        lines += [*_part(name, part), ""]
    if report.seams:
        lines.append("seams")
        lines += [f"{INDENT}{seam.parts[0]} and {seam.parts[1]}: {seam.says}" for seam in report.seams]
        lines.append("")
    for fault in report.faults:
        lines += fault_lines(fault, "")
    text = "\n".join(lines).rstrip("\n")
    return "".join(letter for letter in text if letter.isprintable() or letter == "\n")


def _part(name: str, part: SurveyedPart) -> list[str]:
    read = part.input
    low, high = part.bounds_mm
    x, y, z = read.extents_mm
    band = f"between {part.mass_band_g[0]:.2f} and {part.mass_band_g[1]:.2f} g"
    size = f"{x:.2f} x {y:.2f} x {z:.2f} mm, from {place(low)} to {place(high)}"
    mass = f"{part.mass_g:.2f} g in {part.material}, {band}, balanced at {place(part.centre_mm)}"
    lines = [
        f"{name} ({read.path})",
        f"{INDENT}size    {size}, {read.triangles} triangles",
        f"{INDENT}mass    {mass}; {figure(read.volume_mm3)} mm³",
    ]
    if part.thinnest is not None:
        thin = part.thinnest
        lines.append(
            f"{INDENT}wall    {thin.thickness_mm:.2f} mm at the thinnest, at {place(thin.at_mm)} ({thin.kind})"
        )
    lines += [f"{INDENT}mended  {repair.says}" for repair in read.repairs]
    lines += [
        f"{INDENT}void    sealed, {figure(void.volume_mm3)} mm³ about {place(void.at_mm)}" for void in part.sealed_voids
    ]
    lines += [
        f"{INDENT}flat {number:<2} {flat.area_mm2:9.1f} mm² at {place(flat.at_mm)}, at: {flat.place}"
        for number, flat in enumerate(part.flats, start=1)
    ]
    return lines
