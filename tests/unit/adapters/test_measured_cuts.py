"""Measured cuts from text: good rows taken, bad rows refused by line, nothing lost."""

from __future__ import annotations

import pytest

from kerfwright.adapters.job_measured import OfJob
from kerfwright.adapters.learning_rules import load_cut_limits
from kerfwright.adapters.measured_cuts import COLUMNS, read_cuts, read_kg, read_minutes
from kerfwright.adapters.measured_units import read_pass
from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.ranges import Range
from kerfwright.learning.outcome import PassForecast
from kerfwright.learning.records import SIZE_ERROR_IS
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


@pytest.mark.parametrize(("change", "named"), [
    ({"height": "30"}, "height '30' has no unit"),
    ({"length": "30"}, "length '30' has no unit"),
    ({"time_min": "abc"}, "time_min 'abc' is no number"),
    ({"size_error_um": "4,9x"}, "size_error_um '4,9x' is no number"),
])  # fmt: skip
def test_a_cell_that_cannot_be_read_is_named_by_its_column(change, named):
    cells = {"job": "A1", "machine": "generic-mm", "material": "D2", "wire": "0.25 mm",
             "height": "40 mm", "pass": "1", "length": "412 mm"}  # fmt: skip
    cells |= {"time": "170 min"} if "time_min" not in change else {}
    cells |= change
    (refused,) = read(f"{';'.join(cells)}\n{';'.join(cells.values())}\n").refused
    assert named in refused.finding.message


@pytest.mark.parametrize(
    ("column", "cell", "code"),
    [
        ("finish", "smooth", None),
        ("size_error", "4", "unit-missing"),
        ("wire_used", "0.7", "mass-unreadable"),
        ("breaks", "-1", "value-negative"),
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


@pytest.mark.parametrize(
    ("columns", "cells", "said"),
    [
        (
            "",
            "A1,generic-mm,D2,0.25 mm,4000 mm,1,412 mm,170 min",
            "the height is 4,000 mm (157 in)",
        ),
        ("", "A1,generic-mm,D2,0.25 mm,40 mm,1,0.001 mm,170 min", "the length is 0.001 mm"),
        ("", "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,0.5 s", "the time is"),
        ("", "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,2 s", "the feed is"),
        (",breaks", "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,1000", "breaks is 1,000"),
        (
            ",size_error",
            "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,4 mm",
            "4,000 µm (0.157 in)",
        ),
        (",size_error", "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,-4 mm", "-4,000 µm"),
        (",finish", "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,Ra 80 µm", "the finish is"),
        (",wire_used_kg", "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,900", "wire used is"),
    ],
)
def test_what_no_machine_can_do_is_refused_by_line_with_limit_and_remedy(columns, cells, said):
    batch = read(f"{HEAD}{columns}\n{GOOD}{columns and ','}\n{cells}\n")
    assert len(batch.cuts) == 1
    (refused,) = batch.refused
    assert (refused.line, refused.text, refused.finding.code) == (3, cells, "beyond-any-machine")
    if "size_error" in columns:
        # The measure that `record --help`, the tables and the documents name.
        assert SIZE_ERROR_IS in refused.finding.remedy
        assert "nominal" not in refused.finding.remedy
    assert said in refused.finding.message
    assert "no machine does" in refused.finding.message
    assert refused.finding.remedy.startswith("Check ")


def test_a_shop_says_its_own_limits(tmp_path):
    (tmp_path / "learning.toml").write_text("[limits]\nminutes = [0.02, 100000]\n")
    limits = load_cut_limits(tmp_path)
    row = "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,70000 min"
    assert read(f"{HEAD}\n{row}\n").refused
    assert read(f"{HEAD}\n{row}\n", limits=limits).cuts


@pytest.mark.parametrize(("height", "is_taken"), [("9.8 in", True), ("30 in", False)])
def test_work_higher_than_its_machine_takes_is_refused_with_what_the_machine_takes(
    height, is_taken
):
    batch = read(f"{HEAD}\nA1,generic-mm,D2,0.25 mm,{height},1,412 mm,170 min\n")
    assert bool(batch.cuts) is is_taken
    for refused in batch.refused:
        assert refused.finding.code == "height-beyond-machine"
        assert refused.finding.where.line == 2
        assert (
            "762 mm (30 in); Generic wire machine, metric takes 250 mm" in refused.finding.message
        )


def test_an_area_rate_beyond_any_machine_is_refused_and_more_is_believed_of_quick_materials():
    steel, aluminium = (
        read(f"{HEAD}\nA1,generic-mm,{name},0.25 mm,100 mm,1,412 mm,16 min\n")
        for name in ("D2", "7075")
    )
    (refused,) = steel.refused
    assert refused.finding.code == "beyond-any-machine"
    assert "area rate is 2,575 mm²/min" in refused.finding.message
    assert len(aluminium.cuts) == 1
    # A skim takes little, and may be quick over tall work.
    assert read(f"{HEAD}\nA1,generic-mm,D2,0.25 mm,100 mm,2,412 mm,16 min\n").cuts


@pytest.mark.parametrize(
    ("text", "said"),
    [("1 h 70 min", "70 min"), ("0:85:00", "85 min"), ("0:01:75", "75 s"), ("2 min 60 s", "60 s"),
     ("1 h 95 s", "95 s")],
)  # fmt: skip
def test_sixty_and_more_behind_a_larger_unit_is_a_wrong_digit(text, said):
    with pytest.raises(InputError, match=f"has {said} behind a larger unit") as fault:
        read_minutes(text)
    assert fault.value.code == "time-unreadable"


def test_many_minutes_and_seconds_alone_are_read():
    assert (read_minutes("170 min"), read_minutes("95 s"), read_minutes("1 h 59 min")) == (
        170, 95 / 60, 119,
    )  # fmt: skip


def test_a_pass_that_the_job_lacks_is_refused_with_those_it_has():
    plan = {
        n: PassForecast(
            number=n,
            wall_mm=200.0,
            minutes=Range.exact(60.0),
            feed_share=1.0,
            ra_um=2.0,
            tolerance_um=5.0,
        )
        for n in (1, 2, 3, 4)
    }
    job = OfJob(usual={"job": "plate-7"}, passes=plan)
    head = HEAD.replace(",length", "")
    row = "plate-7,generic-mm,D2,0.25 mm,40 mm,5,170 min"
    (refused,) = read(f"{head}\n{row}\n", job=job).refused
    assert refused.finding.code == "pass-not-of-job"
    assert "has no pass 5; it has 1, 2, 3, 4." in refused.finding.message


@pytest.mark.parametrize(
    "row",
    [
        "A1,generic-mm,Al,0.25 mm,40 mm,1,412 mm,170 min,",
        "A1,generic-mm,XX99,0.25 mm,40 mm,1,412 mm,170 min,",
        "A1,generic-mm,D2,0.9 mm,40 mm,1,412 mm,170 min,",
        "A1,generic-mm,D2,brass,40 mm,1,412 mm,170 min,",
        "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,0.8",
        "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,Ra 16",
        "A1,generic-mm,D2,0.25 mm,40,1,412 mm,170 min,",
    ],
)
def test_a_refusal_is_a_sentence_with_one_full_stop(row):
    (refused,) = read(f"{HEAD},finish\n{row}\n").refused
    for text in (refused.finding.message, refused.finding.remedy):
        assert text.endswith(".")
        assert not text.endswith("..")


@pytest.mark.parametrize(
    ("said", "number"),
    [("rough", 1), ("Rough pass", 1), ("1 rough", 1), ("pass 3", 3), ("2 skim", 2), ("skim 1", 2),
     ("Skim pass 2", 3), ("1st skim", 2), ("4", 4)],
)  # fmt: skip
def test_a_pass_is_named_as_the_set_up_sheet_and_people_name_it(said, number):
    assert read_pass(said) == number


@pytest.mark.parametrize(
    ("said", "code"),
    [("skim", "number-unreadable"), ("1 skim", "pass-ambiguous"), ("2 rough", "pass-ambiguous"),
     ("-1", "value-negative"), ("1.5", "number-unreadable"), ("skim 0", "pass-ambiguous"),
     ("0th skim", "pass-ambiguous")],
)  # fmt: skip
def test_a_pass_that_may_be_two_is_refused(said, code):
    with pytest.raises(InputError) as caught:
        read_pass(said)
    assert caught.value.code == code


def test_a_skim_by_its_place_among_the_skims_says_what_it_was_read_as():
    batch = read(f"{HEAD}\n{GOOD.replace(',1,', ',skim 2,')}\n")
    assert [cut.pass_number for cut in batch.cuts] == [3]
    assert [note.code for note in batch.notes] == ["pass-by-name"]
    assert "'skim 2' is read as pass 3" in batch.notes[0].message


@pytest.mark.parametrize(
    ("column", "cell"),
    [("length", "-5 mm"), ("time", "-10 min"), ("height", "−40 mm"), ("wire_used", "-5 g"),
     ("finish", "Ra -3 µm"), ("finish", "-3 µm Ra"), ("breaks", "-1")],
)  # fmt: skip
def test_a_negative_value_is_refused_for_its_sign_not_for_its_unit(column, cell):
    cells = dict(zip(HEAD.split(","), GOOD.split(","), strict=True)) | {column: cell}
    (refused,) = read(f"{','.join(cells)}\n{','.join(cells.values())}\n").refused
    assert refused.finding.code == "value-negative"
    assert "must not be negative" in refused.finding.message
    assert "unit" not in refused.finding.remedy


@pytest.mark.parametrize(
    ("column", "cell", "code", "remedy"),
    [
        ("breaks", "yes", "breaks-uncounted", "Write the count: 0, none or no, 1 or once, 2."),
        ("breaks", "some", "number-unreadable", "Write the count: 0, none or no, 1 or once, 2."),
        (
            "size_error",
            "4um oversize",
            "size-error-words",
            "+4um or +0.0002in where metal was left",
        ),
        ("size_error", "0.0002in under size", "size-error-words", "Write it with its sign"),
    ],
)
def test_words_that_do_not_say_it_all_are_refused_with_the_forms_that_do(
    column: str, cell: str, code: str, remedy: str, tables: Tables
) -> None:
    text = f"{HEAD},{column}\nA1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,{cell}\n"
    batch = read_cuts(text, catalogue=tables.catalogue, passes=6)
    (refused,) = batch.refused
    assert refused.finding.code == code
    assert remedy in refused.finding.remedy


def test_breaks_may_be_said_in_the_words_that_count_them(tables: Tables) -> None:
    row = "A1,generic-mm,D2,0.25 mm,40 mm,1,412 mm,170 min,"
    said = "".join(f"{row}{cell},{n}\n" for n, cell in enumerate(("none", "No", "once", "2x")))
    batch = read_cuts(f"{HEAD},breaks,note\n{said}", catalogue=tables.catalogue, passes=6)
    assert not batch.refused
    assert [cut.breaks for cut in batch.cuts] == [0, 0, 1, 2]
