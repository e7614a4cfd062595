"""Stdout holds only what we say."""

from __future__ import annotations

import ctypes
import os

import pytest

from prep.cli._stdout import stdout_kept


@pytest.mark.skipif(os.name == "nt", reason="the C library is found by another name there")
def test_what_a_library_prints_goes_to_stderr(capfd: pytest.CaptureFixture[str]) -> None:
    """Python's prints and compiled code's, buffered or not, are kept off stdout, and ours come through after."""
    with stdout_kept():
        os.write(1, b"from a library\n")
        ctypes.CDLL(None).printf(b"from compiled code\n")
    print("{}")
    out, err = capfd.readouterr()
    assert out == "{}\n"
    assert "from a library" in err
    assert "from compiled code" in err
