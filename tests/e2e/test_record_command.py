"""`kerfwright record`, then plan and price with what was learned."""

from __future__ import annotations

import json
from importlib import resources

import pytest

from kerfwright.cli.run import run

SAMPLE = resources.files("kerfwright") / "data" / "samples" / "hand_die.dxf"
TABLE = """\
job,pass,length,time,finish,size_error
clock-1,1,412 mm,3 h 30 min,Ra 3.1 µm,4 µm
clock-1,2,412 mm,58 min,Ra 1.5 µm,-1 µm
clock-2,1,10 in,2 h 5 min,,
clock-2,9,10 in,2 h,,
clock-3,1,10 in,soon,,
"""
JOB = ["--material", "D2", "--height", "40mm", "--tolerance", "±0.01mm", "--wire", "0.25mm"]


def call(capsys, *words):
    code = run([str(w) for w in words])
    shown = capsys.readouterr()
    return code, json.loads(shown.out) if "--json" in words else shown.out + shown.err


@pytest.fixture
def recorded(tmp_path, capsys):
    table = tmp_path / "cuts.csv"
    # Pass 9 is no pass of the tables and is tried below.
    kept = [line for line in TABLE.splitlines() if ",9," not in line]
    table.write_text("\n".join(kept) + "\n", encoding="utf-8")
    words = ["record", table, "--shop", tmp_path / "shop", "--machine", "generic-mm"]
    words += ["--material", "D2", "--wire", "0.25mm", "--height", "40mm", "--json"]
    return tmp_path, call(capsys, *words)


def test_bad_rows_are_named_the_others_count_and_what_moved_is_shown(recorded):
    _, (code, document) = recorded
    assert code == 1
    assert (document["taken"], document["refused"], document["total"]) == (3, 1, 3)
    assert document["findings"][0]["where"] == {"line": 5}
    for row in document["moved"]:
        before, after = (row[k]["feed_mm_per_min"] for k in ("before", "after"))
        assert after["high"] / after["low"] < before["high"] / before["low"]


def test_a_pass_that_the_tables_lack_is_refused_by_its_line_and_is_not_kept(tmp_path, capsys):
    table = tmp_path / "cuts.csv"
    table.write_text(TABLE, encoding="utf-8")
    words = ["record", table, "--shop", tmp_path / "shop", "--machine", "generic-mm"]
    words += ["--material", "D2", "--wire", "0.25mm", "--height", "40mm", "--json"]
    code, document = call(capsys, *words)
    assert code == 1
    assert document["taken"] == 3
    assert [f["where"]["line"] for f in document["findings"]] == [5, 6]


def test_a_quote_is_narrower_with_experience_and_stays_as_it_was(recorded, capsys):
    folder, (_, document) = recorded
    _, tables = call(capsys, "price", SAMPLE, *JOB, "--json")
    job = folder / "job"
    code, _ = call(capsys, "plan", SAMPLE, *JOB, "--shop", folder / "shop", "-o", job)
    assert code == 0
    _, quoted = call(capsys, "price", job, "--json")
    assert quoted["estimate"]["experience"] == document["experience"] != ""
    hours = [d["estimate"]["prices"][0]["hours"] for d in (tables, quoted)]
    assert hours[1]["high"] / hours[1]["low"] < hours[0]["high"] / hours[0]["low"]
    assert hours[1]["likely"] > hours[0]["likely"]  # These cuts were slower than the tables.
    # Cuts of the job itself: what the rows do not say is the job's.
    more = folder / "more.csv"
    more.write_text("pass,length_mm,time_min\n1,100,30\n2,100,13\n", encoding="utf-8")
    words = ["record", more, "--shop", folder / "shop", "--job", job, "--json"]
    code, second = call(capsys, *words)
    assert (code, second["total"]) == (0, 5)
    assert list(job.glob("measured-cuts-*.csv"))
    _, again = call(capsys, "price", job, "--json")
    assert again["estimate"] == quoted["estimate"]
    _, anew = call(capsys, "price", SAMPLE, *JOB, "--shop", folder / "shop", "--json")
    assert anew["estimate"]["experience"] == second["experience"] != document["experience"]
    assert anew["estimate"]["prices"] != quoted["estimate"]["prices"]


def test_a_person_reads_before_and_after(recorded, capsys):
    folder, _ = recorded
    words = ["record", folder / "cuts.csv", "--shop", folder / "shop", "--machine", "generic-mm"]
    words += ["--material", "D2", "--wire", "0.25mm", "--height", "40mm"]
    code, text = call(capsys, *words)
    assert code == 1
    assert "feed before" in text
    assert "recorded before; they count once" in text
