"""prep: finishing steps for exported meshes, run from a recipe and proven before the print."""

__version__ = "0.1.0"
