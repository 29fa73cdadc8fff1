"""Every past quote can be computed as it was, whatever changed since; and what changed is said."""

from __future__ import annotations

import hashlib
import json
import shutil
from importlib import resources

import pytest

from kerfwright.adapters import table_files, tables
from kerfwright.cli.run import run

SAMPLE = resources.files("kerfwright") / "data" / "samples" / "click.dxf"
WANTED = ["--material", "D2", "--height", "40mm", "--tolerance", "±0.01mm", "--wire", "0.25mm"]


def priced(capsys, *words):
    code = run(["price", *(str(w) for w in words), "--json"])
    document = json.loads(capsys.readouterr().out)
    document["codes"] = {f["code"] for f in document.get("findings", ())}
    return code, document


def planned(capsys, folder, *words):
    assert run(["plan", str(SAMPLE), *WANTED, "-o", str(folder), *map(str, words)]) == 0
    capsys.readouterr()
    return quoted_as_planned(capsys, folder)


def quoted_as_planned(capsys, folder):
    code, document = priced(capsys, folder)
    assert code == 0
    assert not document["codes"] & {"figures-changed-since", "quote-differs", "figures-not-kept"}
    return document["estimate"]


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    """A job of the shipped figures; each test has a copy."""
    folder = tmp_path_factory.mktemp("first") / "job"
    assert run(["plan", str(SAMPLE), *WANTED, "-o", str(folder)]) == 0
    return folder


@pytest.fixture
def quote(first, tmp_path, capsys):
    """Return the folder of a job and what it was quoted."""
    folder = shutil.copytree(first, tmp_path / "job")
    capsys.readouterr()
    return folder, quoted_as_planned(capsys, folder)


@pytest.fixture
def release(tmp_path, monkeypatch):
    """Return a way to change a shipped figure, as a later release would."""

    def change(name, old, new):
        data = tmp_path / "data"
        shutil.copytree(table_files.SHIPPED, data)
        text = (data / name).read_text(encoding="utf-8")
        assert old in text
        (data / name).write_text(text.replace(old, new, 1), encoding="utf-8")
        monkeypatch.setattr(table_files, "SHIPPED", data)
        tables._load.cache_clear()

    yield change
    monkeypatch.undo()
    tables._load.cache_clear()


def test_a_changed_shipped_table_does_not_move_an_old_quote(quote, capsys, release):
    job, quoted = quote
    release("passes.toml", "shop_derate = { value = 0.7", "shop_derate = { value = 0.6")
    _, again = priced(capsys, job)
    assert again["estimate"] == quoted
    assert "figures-changed-since" in again["codes"]
    (said,) = (f for f in again["findings"] if f["code"] == "figures-changed-since")
    assert "rough.shop_derate 0.7 → 0.6" in said["message"]
    _, today = priced(capsys, job, "--today")
    assert today["estimate"] != quoted
    assert "quote-differs" in today["codes"]
    _, anew = priced(capsys, SAMPLE, *WANTED)
    assert today["estimate"] == anew["estimate"]
    # The kept figures serve a drawing too.
    _, then = priced(capsys, SAMPLE, *WANTED, "--tables", job / "tables.json")
    assert then["estimate"] == quoted


def test_the_shops_tables_and_its_machine_may_change_or_go(tmp_path, capsys):
    own, machine = tmp_path / "own", tmp_path / "mill.toml"
    own.mkdir()
    (own / "rates.toml").write_text("[hour]\nbench_per_h = 61\n", encoding="utf-8")
    shipped = (table_files.SHIPPED / "machines" / "generic-mm.toml").read_text(encoding="utf-8")
    machine.write_text(shipped, encoding="utf-8")
    job = tmp_path / "job"
    quoted = planned(capsys, job, "--tables", own, "--machine", machine)
    (own / "rates.toml").write_text("[hour]\nbench_per_h = 95\n", encoding="utf-8")
    machine.write_text(shipped.replace("rate_factor = 1", "rate_factor = 2"), encoding="utf-8")
    _, again = priced(capsys, job)
    assert again["estimate"] == quoted
    _, faster = priced(capsys, job, "--machine", machine)
    assert faster["estimate"]["prices"][0]["hours"] != quoted["prices"][0]["hours"]
    shutil.rmtree(own)
    machine.unlink()
    code, gone = priced(capsys, job)
    assert (code, gone["estimate"]) == (0, quoted)
    assert "figures-changed-since" in gone["codes"]


def test_a_shop_that_knew_nothing_when_it_quoted_learns_nothing_into_that_quote(tmp_path, capsys):
    job, shop = tmp_path / "job", tmp_path / "shop"
    quoted = planned(capsys, job, "--shop", shop)
    table = tmp_path / "cuts.csv"
    table.write_text("pass,length_mm,time_min\n1,100,70\n", encoding="utf-8")
    assert run(["record", str(table), "--shop", str(shop), "--job", str(job)]) == 0
    capsys.readouterr()
    _, again = priced(capsys, job)
    assert again["estimate"] == quoted
    assert "shop-learned-since" in again["codes"]
    _, today = priced(capsys, job, "--today")
    assert today["estimate"]["prices"] != quoted["prices"]
    (said,) = (f for f in today["findings"] if f["code"] == "quote-differs")
    assert "made with the experience none of the shop" in said["remedy"]
    assert "made by kerfwright" not in said["remedy"]


def test_edited_figures_are_refused_and_an_old_job_without_any_is_warned_of(quote, capsys):
    job, _ = quote
    kept = job / "tables.json"
    kept.write_text(kept.read_text(encoding="utf-8").replace("0.7", "0.8", 1), encoding="utf-8")
    code, refused = priced(capsys, job)
    assert (code, refused["code"]) == (2, "kept-tables-changed")
    assert "--today" in refused["remedy"]
    toml = job / "job.toml"
    lines = toml.read_text(encoding="utf-8").splitlines()
    toml.write_text(
        "\n".join(line for line in lines if not line.startswith("tables_sha256")), encoding="utf-8"
    )
    code, old = priced(capsys, job)
    assert code == 0
    assert "figures-not-kept" in old["codes"]


def test_a_quote_that_another_version_would_compute_otherwise_says_so(quote, capsys):
    job, quoted = quote
    kept = job / "estimate.json"
    likely = quoted["prices"][0]["likely"]
    kept.write_text(kept.read_text(encoding="utf-8").replace(likely, "1.23"), encoding="utf-8")
    _, again = priced(capsys, job)
    (said,) = (f for f in again["findings"] if f["code"] == "quote-differs")
    assert "quoted 1.23 EUR" in said["message"]
    assert "changed since" in said["remedy"]


def test_a_stack_kept_before_measured_pieces_were_a_figure_is_priced_as_then(tmp_path, capsys):
    """All pieces of a stack were measured then; today's figure must not slip in."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "planning.toml").write_text("[stack]\nstack_measured = 500\n", encoding="utf-8")
    wheel = resources.files("kerfwright") / "data" / "samples" / "escape_wheel.dxf"
    job = tmp_path / "job"
    words = [str(wheel), "--material", "brass", "--height", "0.8mm", "--stack", "8"]
    words += ["--quantity", "8", "--tables", str(own), "-o", str(job)]
    assert run(["plan", *words]) in (0, 1)
    capsys.readouterr()
    quoted = json.loads((job / "estimate.json").read_text(encoding="utf-8"))
    tables_file = job / "tables.json"
    kept = json.loads(tables_file.read_text(encoding="utf-8"))
    del kept["tables"]["planning.toml"]["stack"]["stack_measured"]
    before = hashlib.sha256(tables_file.read_bytes()).hexdigest()
    tables_file.write_text(json.dumps(kept), encoding="utf-8")
    after = hashlib.sha256(tables_file.read_bytes()).hexdigest()
    # A version without the figure would have kept the file so, and its hash beside it.
    text = (job / "job.toml").read_text(encoding="utf-8")
    assert before in text
    (job / "job.toml").write_text(text.replace(before, after), encoding="utf-8")
    _, again = priced(capsys, job)
    assert again["estimate"]["prices"] == quoted["prices"]
    # Of today five of the eight are measured.
    (own / "planning.toml").unlink()
    _, today = priced(capsys, job, "--today")
    assert today["estimate"]["prices"] != quoted["prices"]
