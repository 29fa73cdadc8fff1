"""The papers as their readers meet them: real PDFs, read back and rendered by PDFium."""

from __future__ import annotations

import hashlib
import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerfwright.adapters import job_folder
from kerfwright.adapters.papers import make
from kerfwright.adapters.papers.typeset import SIZES_MM, Paper, Typeset, typeset
from kerfwright.adapters.tables import load_tables
from kerfwright.cli.run import run
from pdf_pages import image, metadata, pages, text_of

DAY = ["--date", "2026-03-02"]
PAPERS = ("quote.pdf", "set-up.pdf", "inspection.pdf", "holes.pdf")
POINTS_PER_MM = 72 / 25.4
HOSTILE = '#read("/etc/hosts") *bold* _it_ $x$ <a> @b \\u{41} [x] "q" `c` // no'

Capture = pytest.CaptureFixture[str]


def ring(folder: Path, name: str = "ring.dxf") -> Path:
    drawing = ezdxf.new("R2010", units=4)
    drawing.modelspace().add_circle((0, 0), 20.0)
    drawing.modelspace().add_circle((0, 0), 10.0)
    drawing.saveas(folder / name)
    return folder / name


def holes_in_a_plate(folder: Path, count: int) -> Path:
    """A die plate of count × count round openings in a plate drawn as stock."""
    drawing = ezdxf.new("R2010", units=4)
    space = drawing.modelspace()
    for i in range(count):
        for j in range(count):
            space.add_circle((20 * i, 20 * j), 6.0, dxfattribs={"layer": "DIE"})
    far = 20 * count
    space.add_lwpolyline([(-15, -15), (far, -15), (far, far), (-15, far)], close=True)
    drawing.saveas(folder / "die.dxf")
    return folder / "die.dxf"


def plan(drawing: Path, *more: str, folder: Path, code: int = 0) -> Path:
    words = [str(drawing), "--material", "D2", "--height", "20mm", *more]
    assert run(["plan", *words, "-o", str(folder)]) == code
    return folder


def papers(folder: Path, *more: str, code: int = 0) -> Path:
    assert run(["papers", str(folder), *DAY, *more]) == code
    return folder


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ring: two contours, one of them the part."""
    folder = tmp_path_factory.mktemp("one")
    made = plan(
        ring(folder), "--tolerance", "±0.005mm", "--finish", "Ra0.8um", "--quantity", "1,7",
        "--customer", "Observatory Müller µ 中", "--reference", "PO-77", "--revision", "C",
        "--due", "2026-05-01", folder=folder / "job",
    )  # fmt: skip
    return papers(made, "--what-if")


@pytest.fixture(scope="module")
def hundred(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hundred")
    drawing = holes_in_a_plate(folder, 10)
    layers = ["--layer", "DIE=opening", "--layer", "0=stock"]
    return papers(plan(drawing, "--tolerance", "±0.01mm", *layers, folder=folder / "job"))


@pytest.fixture(scope="module")
def refused(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Far too tall and too tight: no program."""
    folder = tmp_path_factory.mktemp("refused")
    words = [str(ring(folder)), "--material", "D2", "--height", "400mm"]
    assert run(["plan", *words, "--tolerance", "±0.0001mm", "-o", str(folder / "job")]) == 1
    return papers(folder / "job")


Job = Callable[[], Path]


@pytest.fixture(params=["one", "hundred", "refused"])
def job(request: pytest.FixtureRequest) -> Path:
    found: Path = request.getfixturevalue(request.param)
    return found


def test_every_character_lies_inside_the_margins(job: Path) -> None:
    for name in PAPERS:
        for number, page in enumerate(pages(job / name), start=1):
            edge = 10 * POINTS_PER_MM
            outside = [
                b
                for b in page.boxes
                if b[0] < edge or b[2] > page.wide - edge or b[1] < 4 or b[3] > page.high - 4
            ]
            assert not outside, f"{name} page {number}: {outside[:3]}"


def test_a_page_is_neither_empty_nor_black(job: Path) -> None:
    for name in PAPERS:
        for number in range(len(pages(job / name))):
            shown = image(job / name, page=number)
            dark = float((shown < 128).mean())
            assert 0.002 < dark < 0.25, f"{name} page {number + 1}: {dark:.3f} dark"
            # The white margin: nothing is printed where a printer cannot.
            for rim in (shown[:20], shown[-12:], shown[:, :30].T, shown[:, -30:].T):
                assert (rim > 250).all(), f"{name} page {number + 1}"


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_both_sheets_and_both_units_come_out(
    one: Path, tmp_path: Path, paper: Paper, unit: str
) -> None:
    papers(one, "--paper", paper.value, "--show", unit, "-o", str(tmp_path))
    wide, high = (v * POINTS_PER_MM for v in SIZES_MM[paper])
    for name in PAPERS:
        for page in pages(tmp_path / name):
            assert (page.wide, page.high) == pytest.approx((wide, high), abs=0.1)
            assert all(b[0] > 0 and b[2] < page.wide and b[1] > 0 for b in page.boxes)
    words = text_of(tmp_path / "inspection.pdf")
    # A hole of 20 mm between walls of ± 5 µm each: ± 10 µm.
    nominal = ("20.0000", "19.9900", "20.0100") if unit == "mm" else ("0.78740", "0.78701")
    assert all(n in words for n in nominal)
    # A paper speaks one unit, in findings and advice too.
    for name in PAPERS:
        said = re.findall(
            r"\d (?:mm|µm)\b" if unit == "in" else r"\d in\b", text_of(tmp_path / name)
        )
        assert not said, name


def test_the_same_day_gives_the_same_bytes(one: Path, tmp_path: Path) -> None:
    for name in ("a", "b"):
        papers(one, "-o", str(tmp_path / name))
    made = sorted(p.name for p in (tmp_path / "a").iterdir())
    assert set(made) >= {*PAPERS, "path.dxf", "path.svg"}
    for name in made:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


def test_the_customer_reads_no_secret_of_the_shop(one: Path, hundred: Path, refused: Path) -> None:
    rates = load_tables().rates
    amounts = [
        rates.hour.machine_unattended_per_h, rates.hour.machine_attended_per_h,
        rates.hour.programming_per_h, rates.hour.bench_per_h,
    ]  # fmt: skip
    words = [
        "an hour", "hours", "/h", "margin", "feed", "machine", "wire", "brass", "spool", "rates",
        "offset", "condition", "attended", "program.nc", "tables", ".toml", "electrode",
        "M103", " S1", "unattended",
    ]  # fmt: skip
    for folder in (one, hundred, refused):
        estimate = json.loads((folder / "estimate.json").read_text())
        document = json.loads((folder / "plan.json").read_text())
        machine = document["machine"]["name"]
        feeds = [f"{p['feed_mm_per_min']:.2f}" for p in document["passes"]]
        # What single operations cost: the break-down of the price.
        lines = [line["likely"] for p in estimate["prices"] for line in p["lines"]]
        # Small amounts are as good as any other number.
        lines = [amount for amount in lines if float(amount) > 10]
        for name in ("quote.pdf", "inspection.pdf"):
            text = text_of(folder / name)
            said = text.casefold()
            found = [w for w in (*words, machine) if w.casefold() in said]
            assert not found, f"{name}: {found}"
            assert str(folder.parent) not in text
            numbers = set(re.findall(r"\d+\.\d+", text))
            assert not numbers & {*feeds, *lines, *(f"{a:.2f}" for a in amounts)}, name
            assert str(folder.parent) not in str(metadata(folder / name))


def test_a_quote_adds_up_and_says_for_whom_until_when(one: Path) -> None:
    # Thousands stand apart by a thin space.
    words = re.sub(r"(?<=\d) (?=\d{3}\.)", "", text_of(one / "quote.pdf"))
    estimate = json.loads((one / "estimate.json").read_text())
    for price in estimate["prices"]:
        each = float(price["each"])
        assert f"{each:.2f}" in words
        assert f"{round(each * price['quantity'], 2):.2f}" in words
    for said in ("2026-03-02", "2026-04-01", "PO-77", "revision C", "2026-05-01", "ring.dxf"):
        assert said in words
    assert "What each demand costs" in words
    assert "an order of 2 instead of 1" in words


def test_a_sign_that_no_font_has_becomes_its_number(one: Path) -> None:
    assert "Observatory Müller µ [U+4E2D]" in text_of(one / "quote.pdf")


def test_words_of_people_are_never_markup(tmp_path: Path) -> None:
    drawing = ring(tmp_path, "#panic() $x *a_b* [c].dxf")
    made = plan(
        drawing, "--customer", HOSTILE, "--reference", '")#panic("', "--revision", "#1",
        folder=tmp_path / "job",
    )  # fmt: skip
    words = text_of(papers(made, "--number", "#let x = 1") / "quote.pdf")
    for said in (HOSTILE, '")#panic("', "revision #1", "#let x = 1", drawing.name):
        assert said in words
    assert drawing.name in text_of(made / "set-up.pdf")


def test_the_operator_finds_program_starts_passes_and_moments(one: Path) -> None:
    words = text_of(one / "set-up.pdf")
    document = json.loads((one / "plan.json").read_text())
    digest = document["program"]["sha256"]
    # In fours, or close up where the page is full.
    assert digest in re.sub(r"\s", "", words)
    for start in document["start_holes"]:
        assert start["id"] in words
        assert f"{start['x_mm']:.3f}".lstrip("-") in words
    for one_pass in document["passes"]:
        assert f"{one_pass['offset_mm']:.4f}" in words
        assert f"M103 P{one_pass['number']}" in words
    assert words.count("BE THERE") == 2
    assert "X0 Y0 of the drawing" in words
    # The strip of the page counts from the set-up.
    assert "start of the program; set-up and loading, about" in re.sub(r"\s+", " ", words)
    assert "manual" in words
    assert "secure the part" in words


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_set_up_sheet_of_one_contour_is_one_page_with_its_digests(
    one: Path, tmp_path: Path, paper: str, unit: str
) -> None:
    made = papers(one, "--paper", paper, "--show", unit, "--only", "set-up", "-o", str(tmp_path))
    (page,) = pages(made / "set-up.pdf")
    digests = re.findall(r"[0-9a-f]{64}", re.sub(r"\s", "", page.text))
    assert hashlib.sha256((one / "program.nc").read_bytes()).hexdigest() in digests


def test_a_pass_table_stands_in_one_unit_that_of_the_control(tmp_path: Path) -> None:
    drawing = ezdxf.new("R2010", units=4)
    # Long, so that the table has the whole width and all its columns.
    corners = [(0, 0), (160, 0), (160, 20), (0, 20)]
    drawing.modelspace().add_lwpolyline(corners, close=True)
    drawing.saveas(tmp_path / "bar.dxf")
    made = plan(tmp_path / "bar.dxf", "--tolerance", "±0.005mm", folder=tmp_path / "job")
    words = re.sub(r"[\s\u200b]+", " ", text_of(papers(made, "--show", "in") / "set-up.pdf"))
    document = json.loads((made / "plan.json").read_text())
    assert "The table of passes is in millimetres, as the control shows offset and feed." in words
    assert re.search(r"Offset mm .*Gap mm .*Stock mm .*Ra µm", words)
    assert not re.search(r"(Gap|Stock) in\b", words)
    for one_pass in document["passes"]:
        assert f"{one_pass['gap_um'] / 1000:.4f}" in words


def test_no_heading_of_a_quote_stands_apart_from_its_table(
    one: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: dict[str, Any] = {}

    def kept(template: str, data: dict[str, Any], **how: Any) -> Typeset:
        told[template] = (data, how)
        return typeset(template, data, **how)

    monkeypatch.setattr(make, "typeset", kept)
    papers(one, "--what-if", "--only", "quote")
    data, how = told["quote"]
    last = set()
    # Line by line the heading comes down the page and over its end.
    for more in range(45):
        longer = data | {"assumed": [*data["assumed"], *["So it is read."] * more]}
        sheets = pages(typeset("quote", longer, **how).pdf)
        (costs,) = [p.text for p in sheets if "What each demand costs" in p.text]
        assert "saves each" in costs.partition("What each demand costs")[2], more
        last.add(costs is sheets[0].text)
    assert last == {True, False}


def test_a_hundred_contours_have_every_line_under_a_repeated_head(hundred: Path) -> None:
    sheets = pages(hundred / "set-up.pdf")
    assert len(sheets) > 2
    words = text_of(hundred / "set-up.pdf")
    assert all(re.search(rf"\bS{k} H\d+", words) for k in range(1, 101))
    assert sum("Rough at" in p.text for p in sheets) >= 3
    document = json.loads((hundred / "plan.json").read_text())
    for start in document["start_holes"]:
        assert f"{start['y_mm']:.3f}".replace("-", "−") in words
    assert "found no room" not in words
    inspection = text_of(hundred / "inspection.pdf")
    assert all(re.search(rf"\bH{k} opening Ø", inspection) for k in range(1, 101))


def test_papers_of_a_refused_job_say_so_and_hold_nothing_to_cut_by(refused: Path) -> None:
    assert "Do not cut" in text_of(refused / "set-up.pdf")
    assert "Do not drill" in text_of(refused / "holes.pdf")
    assert "No price as drawn" in text_of(refused / "quote.pdf")
    assert "Nothing to inspect" in text_of(refused / "inspection.pdf")
    for name in PAPERS:
        words = text_of(refused / name)
        assert not re.search(r"\bS\d\b", words), name
        assert "BE THERE" not in words
    assert not (refused / "path.dxf").exists()
    best = text_of(refused / "quote.pdf")
    assert "is beyond us" in best
    assert "we can take it" in best


def test_only_the_papers_asked_for_are_made(one: Path, tmp_path: Path) -> None:
    papers(one, "--only", "holes,quote", "-o", str(tmp_path / "some"))
    made = {p.name for p in (tmp_path / "some").iterdir()}
    assert made == {"holes.pdf", "quote.pdf", ".kerfwright-files"}
    assert run(["papers", str(one), "--only", "invoice"]) == 2


def test_papers_go_with_one_program_or_are_not_made(tmp_path: Path, capsys: Capture) -> None:
    made = plan(ring(tmp_path), folder=tmp_path / "job")
    wishes = made / job_folder.JOB
    wishes.write_text(wishes.read_text().replace('height = "20mm"', 'height = "21mm"'))
    capsys.readouterr()
    papers(made, code=2)
    assert "program.nc" in capsys.readouterr().err
    assert not (made / "quote.pdf").exists()


def test_a_new_plan_takes_the_papers_of_the_old_one_away(tmp_path: Path) -> None:
    drawing = ring(tmp_path)
    made = papers(plan(drawing, folder=tmp_path / "job"), "--only", "set-up")
    assert (made / "set-up.pdf").exists()
    plan(drawing, "--tolerance", "±0.01mm", folder=made)
    assert not (made / "set-up.pdf").exists()


def test_an_edited_program_gets_no_paper(tmp_path: Path) -> None:
    made = plan(ring(tmp_path), folder=tmp_path / "job")
    with (made / "program.nc").open("a") as program:
        program.write("(edited)\n")
    papers(made, code=2)


def test_without_typst_the_message_says_what_to_install(
    one: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    out = ["-o", str(tmp_path / "out")]
    assert run(["papers", str(one), "--only", "quote", *out]) == 2
    assert "pip install 'kerfwright[papers]'" in capsys.readouterr().err
    # The path needs no typesetting.
    assert run(["papers", str(one), "--only", "path", *out]) == 0


def test_the_json_of_the_call_names_the_files(one: Path, tmp_path: Path, capsys: Capture) -> None:
    capsys.readouterr()
    papers(one, "--only", "path", "-o", str(tmp_path / "p"), "--json")
    document = json.loads(capsys.readouterr().out)
    assert document["files"] == ["path.dxf", "path.svg"]
