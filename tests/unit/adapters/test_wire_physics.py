from __future__ import annotations

import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.sources import SourceTag


def test_every_wire_of_the_catalogue_has_its_physics():
    physics = load_wire_physics()
    kinds = {k.wires[0].kind for k in load_tables().catalogue.wire_kinds}
    assert kinds == set(physics.metals)


def test_every_figure_says_where_it_comes_from():
    physics = load_wire_physics()
    records = [
        physics.tension, physics.heat, physics.pulse, physics.breaking, physics.push,
        physics.feeds, *physics.metals.values(),
    ]  # fmt: skip
    for record in records:
        assert record.sources
        for source in record.sources.values():
            assert source.tag is not SourceTag.SHOP
            assert source.citation or source.tag is SourceTag.COMMON_PRACTICE


def test_hot_strength_falls_from_the_cold_strength_to_near_nothing():
    for metal in load_wire_physics().metals.values():
        shares = [share for _, share in metal.hot_strength]
        assert shares[0] == 1
        assert shares == sorted(shares, reverse=True)
        assert shares[-1] <= 0.01


def test_a_shop_lays_its_own_figure_over_ours(tmp_path):
    (tmp_path / "wire_physics.toml").write_text("[push]\npressure_kpa = 6\n", encoding="utf-8")
    physics = load_wire_physics(tmp_path)
    assert physics.push.pressure_kpa == 6
    assert physics.push.sources["pressure_kpa"].tag is SourceTag.SHOP
    assert physics.feeds == load_wire_physics().feeds


def test_a_folder_without_the_file_gives_the_shipped_figures(tmp_path):
    assert load_wire_physics(tmp_path) is load_wire_physics()


def test_a_key_of_an_earlier_kerfwright_is_named_with_the_line_to_delete(tmp_path):
    file = tmp_path / "wire_physics.toml"
    file.write_text("[push]\nside_share_skim = 0.9\npressure_kpa = 5\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"push\.side_share_skim counts no more") as refused:
        load_wire_physics(tmp_path)
    assert (refused.value.code, refused.value.where) == ("table-key", str(file))
    assert "Delete the line side_share_skim below [push]" in refused.value.remedy
    # Done as told, what else the shop wrote counts.
    file.write_text("[push]\npressure_kpa = 5\n", encoding="utf-8")
    assert load_wire_physics(tmp_path).push.pressure_kpa == 5


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("[push]\npresure_kpa = 6\n", "presure_kpa"),
        ("[feeds]\nleast_factor = 1.5\n", "least_factor"),
        ("[heat]\nfilm_w_per_m2k = -1\n", "film_w_per_m2k"),
        ("[heat.film]\nsealed = 2\n", "sealed"),
        ("[wire.tungsten]\nhot_strength = [[20, 0.8], [300, 1.0], [2000, 0.1]]\n", "nowhere rise"),
    ],
)
def test_a_wrong_figure_is_refused_by_name(tmp_path, text, named):
    (tmp_path / "wire_physics.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=named):
        load_wire_physics(tmp_path)
