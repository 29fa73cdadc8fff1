"""Measured cuts from text: good rows taken, bad rows refused by line, nothing lost."""

from __future__ import annotations

import pytest

from kerfwright.adapters.measured_cuts import COLUMNS, read_cuts, read_kg, read_minutes
from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import InputError
from kerfwright.process.technology import Flushing

CATALOGUE = load_tables().catalogue
HEAD = "job,machine,material,wire,height,pass,length,time"
GOOD = "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,2 h 50 min"


def read(text, **more):
    return read_cuts(text, catalogue=CATALOGUE, passes=6, name="cuts.csv", **more)


def test_texts_carry_their_units_in_either_system():
    batch = read(
        HEAD + ",finish,size_error,wire_used,breaks,flushing\n"
        "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,2 h 50 min,Ra 3.1 µm,-4 µm,0.72 kg,1,one open\n"
        "A1,generic-inch,tool steel D2,0.010 in,1.5 in,2,10 in,1:30:00,32 uin Ra,0.0002 in,2 oz,,\n"
    )
    assert not batch.refused
    one, two = batch.cuts
    assert (one.material.id, one.wire.kind, one.wire.diameter_mm) == (
        "tool-steel-d2",
        "hard-brass",
        0.25,
    )
    assert (one.height_mm, one.length_mm, one.minutes, one.ra_um) == (40, 412, 170, 3.1)
    assert (one.size_error_um, one.wire_kg, one.breaks) == (-4, 0.72, 1)
    assert one.flushing is Flushing.ONE_OPEN
    assert (two.height_mm, two.length_mm, two.minutes) == (pytest.approx(38.1), 254, 90)
    # 32 µin * 0.0254; 0.0002 in * 25400; an ounce is 0.028349523125 kg (international pound / 16).
    assert two.ra_um == pytest.approx(0.8128)
    assert two.size_error_um == pytest.approx(5.08)
    assert two.wire_kg == pytest.approx(0.05669904625)
    assert (two.breaks, two.flushing) == (None, Flushing.SEALED)


def test_a_unit_in_the_column_makes_its_cells_plain_numbers():
    batch = read(
        "job,machine,material,wire,height_in,pass,length_mm,time_h,ra_uin,size_error_mm\n"
        "A1,generic-mm,D2,0.25 mm,2,1,412,2.5,125,-0.004\n"
    )
    (one,) = batch.cuts
    assert (one.height_mm, one.length_mm, one.minutes) == (50.8, 412, 150)
    assert one.ra_um == pytest.approx(3.175)
    assert one.size_error_um == pytest.approx(-4)


def test_a_spreadsheet_of_a_country_with_decimal_commas_reads_too():
    batch = read(
        "\ufeffJob;Machine;Material;Wire;Height_mm;Pass;Length_mm;Time_min\r\n"
        "A1;generic-mm;D2;0,25 mm;40,5;1;412,25;170,5\r\n"
    )
    (one,) = batch.cuts
    assert (one.height_mm, one.length_mm, one.minutes) == (40.5, 412.25, 170.5)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("A1,generic-mm,XX99,0.25 mm,40 mm,1,412 mm,170 min", "material-unknown"),
        ("A1,generic-mm,stainless,0.25 mm,40 mm,1,412 mm,170 min", "material-ambiguous"),
        ("A1,no-such,D2,0.25 mm,40 mm,1,412 mm,170 min", "machine-unknown"),
        ("A1,generic-mm,D2,0.27 mm,40 mm,1,412 mm,170 min", "wire-unknown"),
        ("A1,generic-mm,D2,0.25 mm,40,1,412 mm,170 min", "unit-missing"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,first,412 mm,170 min", "number-unreadable"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,0,412 mm,170 min", "measured-value"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,7,412 mm,170 min", "pass-unknown"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,1,0 mm,170 min", "measured-value"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,50:00", "time-unreadable"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,", "cell-missing"),
        (",generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min", "cell-missing"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm", "row-length"),
        ("A1,generic-mm,D2,0.25 mm,40 mm,1,412,5 mm,170 min", "row-length"),
        ('A1,generic-mm,"D2,0.25 mm,40 mm,1,412 mm,170 min', "row-length"),
    ],
)
def test_a_bad_row_is_refused_with_its_line_and_the_others_are_taken(row, code):
    batch = read(f"{HEAD}\n{GOOD}\n# a remark\n\n{row}\n{GOOD}\n")
    assert len(batch.cuts) == 2
    (refused,) = batch.refused
    assert (refused.line, refused.text, refused.finding.code) == (5, row, code)
    assert refused.finding.where.line == 5
    assert "Line 5" in refused.finding.message
    assert refused.finding.remedy


@pytest.mark.parametrize(
    ("column", "cell", "code"),
    [
        ("finish", "smooth", None),
        ("size_error", "4", "unit-missing"),
        ("wire_used", "0.7", "mass-unreadable"),
        ("breaks", "-1", "number-unreadable"),
        ("flushing", "dry", "flushing-unknown"),
        ("ra_u", "-3", "columns-unknown"),
        ("ra_um", "-3", "measured-value"),
        ("wire_used_kg", "nan", "measured-value"),
    ],
)
def test_a_bad_cell_of_what_may_be_left_out_is_refused_too(column, cell, code):
    text = f"{HEAD},{column}\n{GOOD},{cell}\n"
    if code == "columns-unknown":
        with pytest.raises(InputError, match="nearest: ra_um"):
            read(text)
        return
    batch = read(text)
    assert not batch.cuts
    assert code is None or batch.refused[0].finding.code == code


def test_every_row_is_taken_or_refused():
    rows = [GOOD, "", "nonsense", GOOD.replace("D2", "XX"), GOOD, "# remark", "," * 7]
    batch = read("\n".join([HEAD, *rows]))
    taken = {int(c.place.rpartition(" ")[2]) for c in batch.cuts}
    refused = {r.line for r in batch.refused}
    assert taken == {2, 6}
    assert refused == {4, 5, 8}


@pytest.mark.parametrize(
    ("head", "code"),
    [
        ("", "columns-missing"),
        (HEAD.replace(",time", ""), "columns-missing"),
        (HEAD + ",colour", "columns-unknown"),
        (HEAD + ",time_min", "columns-twice"),
        (HEAD + ",job", "columns-twice"),
    ],
)
def test_a_header_that_cannot_be_used_stops_everything(head, code):
    with pytest.raises(InputError) as caught:
        read(f"{head}\n{GOOD}\n" if head else "")
    assert caught.value.code == code


def test_what_the_job_knows_fills_what_rows_do_not_say():
    usual = {"job": "J7", "machine": "generic-mm", "material": "H13", "wire": "0.2 mm"}
    batch = read(
        "material,height_mm,pass,length_mm,time_min\n,40,1,412,170\nD2,40,1,412,170\n",
        usual=usual | {"height": "1 in"},
    )
    one, two = batch.cuts
    assert (one.job, one.material.id, one.height_mm) == ("J7", "tool-steel-h13", 40)
    assert two.material.id == "tool-steel-d2"


@pytest.mark.parametrize("text", ["34", "34:12", "", "1 h 2 h", "2 days", "1:75"])
def test_a_time_that_may_mean_two_things_is_refused(text):
    with pytest.raises(InputError):
        read_minutes(text)


def test_times_and_masses_by_hand():
    assert read_minutes("1,5 h") == 90
    assert read_minutes("2 min 30 s") == 2.5
    assert read_kg("250 g") == 0.25
    assert read_kg("1 lb") == 0.45359237


def test_the_columns_named_are_the_columns_read():
    assert len(set(COLUMNS)) == len(COLUMNS)
