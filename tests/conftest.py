"""What every test may ask for."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))  # so that tests find `fixtures`, which is not installed


@pytest.fixture(scope="session")
def shared_meshes() -> Path:
    """The folder of real meshes kept beside the repository; tests that need it are skipped where it is missing."""
    folder = ROOT.parent / "shared" / "meshes"
    if not folder.is_dir():
        pytest.skip("no folder shared/meshes beside the repository")
    return folder
