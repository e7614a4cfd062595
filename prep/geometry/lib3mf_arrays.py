"""lib3mf's meshes as arrays: whole buffers handed over, no loop over vertices in Python."""

from __future__ import annotations

import ctypes
from functools import cache
from typing import Any, TypeVar

import lib3mf
import numpy as np
from numpy.typing import NDArray

Room = TypeVar("Room", NDArray[np.float32], NDArray[np.uint32])
Lib3mfError = lib3mf.Lib3MF.ELib3MFException


@cache
def wrapper() -> Any:  # noqa: ANN401  lib3mf ships no annotations
    """The library, loaded once."""
    return lib3mf.get_wrapper()


def model_of(data: bytes) -> Any:  # noqa: ANN401
    """A lib3mf model read from the bytes of a package.

    Raises
    ------
    Lib3mfError
        lib3mf refuses the package.
    """
    model = wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    buffer = ctypes.cast(ctypes.c_char_p(data), ctypes.POINTER(ctypes.c_uint8))
    wrapper().checkError(
        reader, wrapper().lib.lib3mf_reader_readfrombuffer(reader._handle, ctypes.c_uint64(len(data)), buffer)
    )
    return model


def vertices_of(mesh: Any) -> NDArray[np.float32]:  # noqa: ANN401
    """Vertices of a lib3mf mesh object, (n, 3), in the file's unit."""
    return _filled(mesh, "getvertices", lib3mf.Lib3MF.Position, np.empty((mesh.GetVertexCount(), 3), np.float32))


def triangles_of(mesh: Any) -> NDArray[np.uint32]:  # noqa: ANN401
    """Triangles of a lib3mf mesh object, (m, 3)."""
    return _filled(
        mesh, "gettriangleindices", lib3mf.Lib3MF.Triangle, np.empty((mesh.GetTriangleCount(), 3), np.uint32)
    )


def properties_of(mesh: Any) -> NDArray[np.uint32]:  # noqa: ANN401
    """Resource and the property of each corner, (m, 4); zeros for a triangle without."""
    kind = lib3mf.Lib3MF.TriangleProperties
    return _filled(mesh, "getalltriangleproperties", kind, np.empty((mesh.GetTriangleCount(), 4), np.uint32))


def set_geometry(mesh: Any, vertices: NDArray[np.float32], triangles: NDArray[np.uint32]) -> None:  # noqa: ANN401
    """Give a lib3mf mesh object its vertices (n, 3) and triangles (m, 3)."""
    points = np.ascontiguousarray(vertices, dtype=np.float32)
    corners = np.ascontiguousarray(triangles, dtype=np.uint32)
    wrapper().checkError(
        mesh,
        wrapper().lib.lib3mf_meshobject_setgeometry(
            mesh._handle,
            ctypes.c_uint64(len(points)),
            points.ctypes.data_as(ctypes.POINTER(lib3mf.Lib3MF.Position)),
            ctypes.c_uint64(len(corners)),
            corners.ctypes.data_as(ctypes.POINTER(lib3mf.Lib3MF.Triangle)),
        ),
    )


def _filled(mesh: Any, what: str, kind: Any, room: Room) -> Room:  # noqa: ANN401
    needed = ctypes.c_uint64(0)
    fill = getattr(wrapper().lib, f"lib3mf_meshobject_{what}")
    pointer = room.ctypes.data_as(ctypes.POINTER(kind))
    wrapper().checkError(mesh, fill(mesh._handle, ctypes.c_uint64(len(room)), ctypes.byref(needed), pointer))
    return room
