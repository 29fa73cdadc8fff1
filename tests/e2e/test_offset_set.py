"""An offset that measured sizes put off is advised once, and never again once it was set."""

from __future__ import annotations

import json
import os
import shlex
from importlib import resources

import pytest

from kerfwright.cli.run import run

SAMPLE = resources.files("kerfwright") / "data" / "samples" / "click.dxf"
BEFORE = [("j1", 6.0), ("j2", 5.0), ("j3", 6.0), ("j4", 5.0), ("j5", 6.0), ("j6", 5.0)]
SINCE = [("k21", 0.5), ("k22", 0.6), ("k23", 0.4)]
OF_CUTS = ["--machine", "generic-mm", "--material", "D2", "--wire", "0.25mm", "--height", "100mm"]
ASKED = ["--material", "D2", "--height", "100mm", "--wire", "0.25mm", "--finish", "Ra0.6um"]


def call(capsys, *words):
    code = run([str(w) for w in words])
    shown = capsys.readouterr()
    return code, json.loads(shown.out) if "--json" in words else shown.out + shown.err


@pytest.fixture
def shop(tmp_path):
    # A folder whose name has to be quoted.
    return tmp_path / "our shop"


def record(capsys, shop, name, sizes):
    """Record sizes of pass 4, in a sheet of their own and at a time of its own."""
    table = shop.parent / f"{name}.csv"
    rows = [f"{job},4,400 mm,88 min,{um:g} µm" for job, um in sizes]
    table.write_text("\n".join(["job,pass,length,time,size_error", *rows]) + "\n", "utf-8")
    code, said = call(capsys, "record", table, "--shop", shop, *OF_CUTS, "--json")
    assert code == 0
    batch = next((shop / "cuts").glob(f"{said['batch']}.csv"))
    when = 1_700_000_000 + 86_400 * len(list((shop / "cuts").glob("*.csv")))
    os.utime(batch, (when, when))
    return said


def plan(capsys, shop, name="job", tolerance="±0.01mm"):
    words = ["plan", SAMPLE, *ASKED, "--tolerance", tolerance, "--shop", shop, "--json"]
    return call(capsys, *words, "-o", shop.parent / name)


def offsets(document):
    return {f["code"]: f for f in document["findings"] if "offset" in f["code"]}


def typed(capsys, document_or_finding):
    """Type the command of a finding as it is printed."""
    program, *words = shlex.split(document_or_finding["data"]["command"])
    assert program == "kerfwright"
    return call(capsys, *words)


def test_the_printed_command_says_for_all_sizes_that_the_offset_was_set(capsys, shop):
    said = record(capsys, shop, "before", BEFORE)
    advised = offsets(said)["offset-to-set"]
    assert "set the offset of pass 4 5." in advised["remedy"]
    _, planned = plan(capsys, shop)
    assert offsets(planned)["offset-to-set"]["data"]["command"] == advised["data"]["command"]
    _, text = call(capsys, "plan", SAMPLE, *ASKED, "--shop", shop, "-o", shop.parent / "shown")
    # One line, however long: so it can be copied.
    assert f"run: {advised['data']['command']}\n" in text
    code, text = typed(capsys, advised)
    assert code == 0
    assert "6 sizes from before count as if cut with it" in " ".join(text.split())
    assert not offsets(plan(capsys, shop)[1])
    said = record(capsys, shop, "since", SINCE)
    assert not offsets(said)
    assert "cut-far-off" not in {f["code"] for f in said["findings"]}
    _, planned = plan(capsys, shop)
    assert not offsets(planned)
    # What was said can be taken back, like a batch.
    _, listed = call(capsys, "record", "--shop", shop, "--list", "--json")
    (one,) = listed["offsets"]
    assert len(one["sizes"]) == 6
    call(capsys, "record", "--shop", shop, "--withdraw", one["name"][:12])
    assert offsets(plan(capsys, shop)[1])


def test_a_shop_that_did_not_say_so_is_asked_and_not_told_to_set_it_again(capsys, shop):
    record(capsys, shop, "before", BEFORE)
    said = record(capsys, shop, "since", SINCE)
    for document in (said, plan(capsys, shop)[1]):
        (asked,) = offsets(document).values()
        assert asked["code"] == "offset-set-in-between"
        assert "set the offset" not in asked["message"] + asked["remedy"]
        assert "jobs k21, k22, k23, recorded last, lie 5 µm" in asked["message"]
    _, text = call(capsys, "plan", SAMPLE, *ASKED, "--shop", shop, "-o", shop.parent / "shown")
    assert "smaller at the machine" not in text
    code, text = typed(capsys, asked)
    assert code == 0
    assert "6 sizes from before" in text
    assert not offsets(plan(capsys, shop)[1])


def test_all_sizes_behind_a_refused_tolerance_are_answered_for_at_once(capsys, shop):
    record(capsys, shop, "before", BEFORE)
    held = ["plan", SAMPLE, *ASKED, "--tolerance", "±0.005mm", "--json", "-o"]
    best = call(capsys, *held, shop.parent / "bare")[1]["plan"]["passes"][3]["tolerance_um"]
    code, refused = plan(capsys, shop, tolerance="±0.005mm")
    assert code == 1
    (found,) = (f for f in refused["findings"] if f["code"] == "tolerance-beyond-process")
    assert "--mended" not in found["remedy"]
    typed(capsys, found)
    _, planned = plan(capsys, shop, tolerance="±0.005mm")
    # Sizes from before the offset was set prove no narrower promise than the tables'.
    assert planned["plan"]["passes"][3]["tolerance_um"] == best


OF = "generic-mm / tool-steel-d2 / hard-brass 0.25 mm / pass 4"


def says_set(capsys, shop, *more):
    """Say that the offset was set; return the exit code and what was said, on one line."""
    code, text = call(capsys, "record", "--shop", shop, "--offset-set", OF, *more)
    return code, " ".join(text.split())


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (("--larger", "3.1um"), "mean 3.2 µm (0.00013 in); positive is metal left, which asks for"),
        (("--smaller", "31um"), "may have been set from 1.5 µm"),
        (("--smaller", "6.4um"), "to 4.4 µm"),
        (("--smaller", "1.2um"), "lie 3 µm"),
    ],
)
def test_an_offset_set_against_its_sizes_is_asked_about(capsys, shop, said, told):
    record(capsys, shop, "before", [("j1", 3.2), ("j2", 3.0), ("j3", 3.4)])
    code, text = says_set(capsys, shop, *said)
    assert code == 2
    assert "is in doubt" in text
    assert told in text
    assert "--sure" in text
    assert not (shop / "cuts" / "offsets").exists()
    code, text = says_set(capsys, shop, *said, "--sure")
    assert code == 0
    assert "3 sizes from before count" in text


@pytest.mark.parametrize("by", ["1.6um", "3.1um", "0.00015in"])
def test_what_may_be_read_from_the_sizes_is_taken_at_once(capsys, shop, by):
    record(capsys, shop, "before", [("j1", 3.2), ("j2", 3.0), ("j3", 3.4)])
    assert says_set(capsys, shop, "--smaller", by)[0] == 0


def test_one_setting_that_is_said_twice_is_asked_about(capsys, shop):
    # Small enough that the amount alone would pass for one read from what is left.
    record(capsys, shop, "before", [("j1", 1.2), ("j2", 1.1), ("j3", 1.0)])
    assert says_set(capsys, shop, "--smaller", "1um")[0] == 0
    code, text = says_set(capsys, shop, "--smaller", "1um")
    assert code == 2
    assert "as if cut with it set 1 µm (39 µin) smaller, and none was measured since" in text
    # A size measured between is something to set it by again.
    record(capsys, shop, "since", [("k1", 1.1)])
    assert says_set(capsys, shop, "--smaller", "1um")[0] == 0


def test_said_late_it_asks_which_jobs_were_cut_since(capsys, shop):
    record(capsys, shop, "before", [("j1", 1.2), ("j2", 1.3), ("j3", 1.4)])
    record(capsys, shop, "since", [("k1", 0.1), ("k2", 0.2), ("k3", -0.1)])
    code, text = says_set(capsys, shop, "--smaller", "1.3um")
    assert code == 2
    assert "the sizes of jobs k1, k2, k3, recorded last, lie 1.2 µm" in text
    assert "(--cut-since)" in text
    named = [word for job in ("k1", "k2", "k3") for word in ("--cut-since", job)]
    code, text = says_set(capsys, shop, "--smaller", "1.3um", *named)
    assert code == 0
    assert "3 sizes from before count" in text


def test_a_change_of_an_offset_that_cannot_be_is_refused_by_what_is_wrong(capsys, shop):
    record(capsys, shop, "before", BEFORE)
    of, words = OF, ["record", "--shop", shop, "--offset-set"]
    for more, told in (
        ([of], "one of --smaller and --larger"),
        ([of, "--smaller", "5"], "has no unit"),
        ([of, "--smaller", "0um"], "not above 0"),
        ([of.replace("pass 4", "pass 2"), "--smaller", "5um"], f"Measured here: {of}"),
        ([of, "--smaller", "5um", "--cut-since", "z9"], "no size of"),
        ([of, "--smaller", "5um", *(w for j, _ in BEFORE for w in ("--cut-since", j))], "since"),
    ):
        code, text = call(capsys, *words, *more)
        assert code == 2
        assert told in " ".join(text.split()), text
    for more in (["--larger", "5um"], ["--sure"]):
        code, text = call(capsys, "record", "--shop", shop, "--list", *more)
        assert code == 2
        assert "go with --offset-set" in " ".join(text.split())


def test_an_option_that_is_taken_once_is_refused_where_it_is_given_twice(capsys, shop):
    words = ["record", "--shop", shop, *OF_CUTS, "--job-name", "j", "--pass", "1", "--time", "1 h"]
    for more in (["--pass", "2"], ["--time=2 h"]):
        code, text = call(capsys, *words, *more)
        assert code == 2
        assert "is given 2 times; it is taken once" in " ".join(text.split())
    assert not shop.exists()
    code, text = call(capsys, "mark", shop.parent, "--done", "H1, rough", "--done", "H2, rough")
    assert code == 2
    assert "--done is given 2 times" in " ".join(text.split())


def test_answers_given_again_all_count(capsys, shop):
    record(capsys, shop, "a", [("j1", 49.0)])
    record(capsys, shop, "b", [("j2", -49.0)])
    words = ["record", "--shop", shop]
    code, text = call(capsys, *words, "--confirm", "j1:4", "--confirm", "j9:4")
    assert code == 2
    assert "job 'j9' is in question" in text
    _, text = call(capsys, *words, "--confirm", "j1:4", "--confirm", "j2:4")
    assert "Confirmed: 2 sizes of j1:4, j2:4" in text
    mended = ["--mended", "j1:4", "--mended", "j2:4", "--reason", "guide changed"]
    _, text = call(capsys, *words, *mended)
    assert "Mended: 2 sizes of j1:4, j2:4" in text
    _, listed = call(capsys, *words, "--list", "--json")
    names = [one["name"] for one in listed["batches"]]
    code, _ = call(capsys, *words, "--withdraw", names[0], "--withdraw", "none")
    assert code == 2
    _, text = call(capsys, *words, "--withdraw", names[0], "--withdraw", names[1])
    assert "taken back with 2 cuts" in " ".join(text.split())
