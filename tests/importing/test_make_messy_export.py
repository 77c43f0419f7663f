"""The checked-in export is what its generator writes."""

import pytest

from clinic.people.importing import reading
from tests.importing import make_messy_export
from tests.importing.practice import MESSY


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The folder, freshly written."""
    folder = tmp_path_factory.mktemp("export")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(make_messy_export, "FOLDER", folder)
        make_messy_export.main()
    return folder


@pytest.mark.parametrize("name", ["clients.csv", "visits_2025.csv", "programs.csv", "logs.csv", "faults.json"])
def test_text_files_are_equal_to_the_byte(written, name):
    assert (written / name).read_bytes() == (MESSY / name).read_bytes()


def test_the_workbook_holds_the_same_cells(written):
    (fresh,), (kept,) = (reading.tables(folder / "visits.xlsx") for folder in (written, MESSY))
    assert list(fresh.rows()) == list(kept.rows())
