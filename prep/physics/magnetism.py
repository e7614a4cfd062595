"""The laws of magnetism in one list, for those who use several; each has its own file."""

from prep.physics.block_pull import block_pull
from prep.physics.device_distance import device_distance
from prep.physics.flux_index import INGESTION_LIMIT, block_flux_index, flux_index, largest_face_field
from prep.physics.magnet_field import axis_field, block_field, face_field
from prep.physics.pull_force import pull_force, steel_pull

__all__ = [
    "INGESTION_LIMIT",
    "axis_field",
    "block_field",
    "block_flux_index",
    "block_pull",
    "device_distance",
    "face_field",
    "flux_index",
    "largest_face_field",
    "pull_force",
    "steel_pull",
]
