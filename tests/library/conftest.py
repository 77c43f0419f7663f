"""What the tests of the library share."""

from pathlib import Path

import pytest

from tests.library.files import copy_neck


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A library of one region, to be spoilt or edited."""
    return copy_neck(tmp_path)
