"""The small model of the report's tests, built once."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from prep.build.record import Built, Record
from prep.report.plan import with_pictures
from prep.report.write import write_report


@pytest.fixture(scope="session")
def model() -> ModuleType:
    """The module beside this file that draws the model."""
    spec = importlib.util.spec_from_file_location("report_model", Path(__file__).with_name("model.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def built(model) -> Built:
    """The model as a build hands it over."""
    return model.built()


@pytest.fixture(scope="session")
def record(built) -> Record:
    """Its record, with the pictures it will have."""
    return with_pictures(built)


@pytest.fixture(scope="session")
def written(built, tmp_path_factory) -> Path:
    """A folder with its whole report."""
    out = tmp_path_factory.mktemp("report")
    write_report(built, out, lambda *_: None)
    return out
