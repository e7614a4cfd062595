"""`write_3mf`: solids as the objects of one 3MF package, the same bytes for the same solids."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping
from pathlib import Path

import lib3mf
import numpy as np

from prep.geometry.lib3mf_arrays import set_geometry, wrapper
from prep.geometry.solid import Solid

DIGITS = 9
"""Digits after the point, in mm: single precision, in which lib3mf holds coordinates, to the last bit above 0.01 mm."""

_SPACE = uuid.UUID("8f0c2b52-5d0e-5b6c-9d1e-3b1f0d5f7a11")
"""Our own name space, so that the identifiers 3MF asks for follow from the content alone."""


def write_3mf(path: Path, solids: Mapping[str, Solid], title: str) -> None:
    """Write named solids to a 3MF file in mm, one object and one build item each.

    Notes
    -----
    lib3mf draws identifiers at random unless told; here they are made from the title, the names and the content, so
    that the same solids give the same bytes. Vertices are shared by number, so that what is closed stays closed.

    References
    ----------
    3MF Consortium, 3D Manufacturing Format core specification 1.4.0 (2023), chapters 3 and 4.
    """
    model = wrapper().CreateModel()
    model.SetUnit(lib3mf.Lib3MF.ModelUnit.MilliMeter)
    model.GetMetaDataGroup().AddMetaData("", "Title", title, "xs:string", True)
    whole = hashlib.sha256(title.encode())
    for number, (name, solid) in enumerate(solids.items()):
        own = f"{number}/{name}/{solid.sha256}"
        whole.update(own.encode())
        mesh = model.AddMeshObject()
        mesh.SetName(name)
        mesh.SetUUID(_identifier("object/" + own))
        set_geometry(mesh, solid.vertices.astype(np.float32), solid.triangles.astype(np.uint32))
        item = model.AddBuildItem(mesh, wrapper().GetIdentityTransform())
        item.SetUUID(_identifier("item/" + own))
    model.SetBuildUUID(_identifier("build/" + whole.hexdigest()))
    writer = model.QueryWriter("3mf")
    writer.SetDecimalPrecision(DIGITS)
    writer.WriteToFile(str(path))


def _identifier(word: str) -> str:
    return str(uuid.uuid5(_SPACE, word))
