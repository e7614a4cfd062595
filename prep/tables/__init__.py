"""Floor 1. What can be bought, poured, sprayed and printed: one table a file, a source in every row.

What lives here: the CSV tables, the frozen rows they are read into, and the shop's overrides of them.
What may be imported: errors, the standard library.
What must not come in: laws of physics, geometry, units with text (a column's name carries its unit).
"""

from prep.tables.rows import (
    AdhesiveRow,
    BallastRow,
    CellRow,
    GradeRow,
    LedRow,
    MagnetRow,
    MaterialRow,
    PaintRow,
    ProcessRow,
    TableRow,
    TransmissionRow,
)
from prep.tables.table import Override, Table
from prep.tables.tables import Tables

__all__ = [
    "AdhesiveRow",
    "BallastRow",
    "CellRow",
    "GradeRow",
    "LedRow",
    "MagnetRow",
    "MaterialRow",
    "Override",
    "PaintRow",
    "ProcessRow",
    "Table",
    "TableRow",
    "Tables",
    "TransmissionRow",
]
