"""What is said of a figure that cannot be used where none is shipped."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import InputError

OWN = """[material.shop-bronze]
name = "Shop bronze"
family = "copper"
density_kg_per_m3 = 8800
"""


def asked(folder: Path) -> None:
    """Load tables and ask for the one material that is left out of them."""
    catalogue = load_tables(folder).catalogue
    (gone,) = catalogue.left_out
    catalogue.material(gone.names[0])


def refused(folder: Path, text: str) -> InputError:
    (folder / "materials.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        asked(folder)
    return caught.value


@pytest.mark.parametrize("line", ["", "rate_factor = -1\n", "rate_factor = 1e20\n"])
def test_no_shipped_value_is_offered_for_a_material_of_the_shop(tmp_path: Path, line: str) -> None:
    error = refused(tmp_path, OWN + line)
    assert "material.shop-bronze" in str(error)
    assert "shipped value" not in error.remedy
    assert "no value of it is shipped" in error.remedy


def test_a_shipped_material_has_its_value_to_fall_back_on(tmp_path: Path) -> None:
    error = refused(tmp_path, "[material.copper-c110]\nrate_factor = -1\n")
    assert "delete it to use the shipped value" in error.remedy
