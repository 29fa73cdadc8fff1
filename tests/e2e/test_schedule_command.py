"""From kept jobs and a park to the week, the attendant's list, a promise and a plan anew."""

from __future__ import annotations

import json
import shutil
from datetime import datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from kerfwright.adapters.exact_timetable import has_exact
from kerfwright.adapters.job_result import read_request
from kerfwright.app.loads import Splitting, Wish, load_of
from kerfwright.cli.run import run
from kerfwright.costing.breaks import WIRE_BREAKS
from kerfwright.wiring import job_strip, plan_job

SAMPLES = Path(str(files("kerfwright") / "data/samples"))
MONDAY = "2026-03-02 07:00"
PARK = """
format = "kerfwright-park"
version = 1
[attendant]
mon = ["07:00-12:00", "12:30-16:00"]
tue = ["07:00-12:00", "12:30-16:00"]
wed = ["07:00-12:00", "12:30-16:00"]
[[machine]]
id = "M1"
wire = "0.25 mm"
[[machine]]
id = "M2"
definition = "generic-mm"
wire = "0.01 in"
[job.wheel]
quantity = 2
due = 2026-03-03
importance = 3
[job.punch]
due = "2026-03-04"
fixture = "vice"
"""
WANTED = {
    "wheel": ("escape_wheel", "6mm", "C270 brass"),
    "click": ("click", "2.5mm", "C270 brass"),
    "punch": ("pawl_punch", "20mm", "D2"),
}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("jobs")
    for name, (drawing, height, material) in WANTED.items():
        words = ["plan", str(SAMPLES / f"{drawing}.dxf"), "--material", material, "--height",
                 height, "--tolerance", "±0.01mm", "-o", str(folder / name)]  # fmt: skip
        assert run(words) == 0
    (folder / "park.toml").write_text(PARK, encoding="utf-8")
    return folder


@pytest.fixture
def shop(kept: Path, tmp_path: Path) -> Path:
    # Beside the jobs as planned: their drawings are found by way of their own folder.
    place = kept.parent / f"{tmp_path.name}-jobs"
    shutil.copytree(kept, place)
    return place


def call(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, dict[str, Any]]:
    capsys.readouterr()
    code = run(["schedule", *map(str, words), "--engine", "lists", "--steps", "120", "--json"])
    return code, json.loads(capsys.readouterr().out)


def codes(document: dict[str, Any]) -> list[str]:
    return [f["code"] for f in document["findings"]]


def test_kept_jobs_become_a_week_that_holds(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, week = call(capsys, shop, "--from", MONDAY)
    assert code == 0
    assert week["holds"]
    assert {b["job"] for b in week["bookings"]} == set(WANTED)
    touches = week["touches"]
    assert [t["when"] for t in touches] == sorted(t["when"] for t in touches)
    assert touches[0]["name"] == "set-up"
    assert touches[0]["cautions"]
    for touch in touches:
        begin = datetime.fromisoformat(touch["when"])
        assert begin.weekday() < 3
        assert "07:00" <= f"{begin:%H:%M}" < "16:00"
    wheel = next(b for b in week["bookings"] if b["job"] == "wheel")
    # Two pieces: the second is loaded once more, and the first comes off before.
    names = [s["name"] for s in wheel["stages"] if s["attended"]]
    assert names[0] == "set-up"
    assert names.count("next piece") == 1
    assert 0 <= wheel["held_share"] <= 1
    assert wheel["done"] == sorted(wheel["done"])
    assert wheel["due"] < "2026-03-03 16:00"


def test_the_list_is_a_calendar_whose_events_keep_their_names_when_they_move(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    icalendar = pytest.importorskip("icalendar")
    feeds = [tmp_path / "one.ics", tmp_path / "two.ics"]
    code, week = call(capsys, shop, "--from", MONDAY, "--calendar", feeds[0])
    later = call(capsys, shop, "--from", "2026-03-02 10:00", "--anew", "--calendar", feeds[1])[1]
    assert code == 0
    assert week["calendar"] == str(feeds[0])
    one, two = (icalendar.Calendar.from_ical(f.read_bytes()).walk("VEVENT") for f in feeds)
    assert [f"{e.decoded('dtstart'):%Y-%m-%d %H:%M}" for e in one] == [
        t["when"] for t in week["touches"]
    ]
    # RFC 5545, 3.3.5, form 1: by the clock on the wall, whatever zone the reader is in.
    assert all(e.decoded("dtstart").tzinfo is None for e in one)
    assert all("Mind: " in str(e["description"]) for e in one if "set-up" in e["summary"])
    names = {str(e["uid"]) for e in one}
    assert len(names) == len(one)
    assert len(names & {str(e["uid"]) for e in two}) > len(names) // 2
    assert later["touches"][0]["when"] >= "2026-03-02 10:00"


def test_the_same_steps_give_the_same_week(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one, two = (call(capsys, shop, "--from", MONDAY)[1] for _ in range(2))
    assert one == two


def test_people_read_the_week_the_list_and_the_cautions(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["schedule", str(shop), "--from", MONDAY, "--engine", "lists", "--steps", "50"]) == 0
    text = capsys.readouterr().out
    for said in ("The week from Mon 02 Mar 07:00", "Where you have to be", "What is held",
                 "Mind: what comes free falls", "minutes late times importance"):  # fmt: skip
        assert said in text
    assert "optimal" not in text
    words = ["schedule", str(shop), "--from", MONDAY, "--steps", "20", "--show", "in"]
    assert run([*words, "--engine", "lists"]) == 0
    assert "0.0098" in capsys.readouterr().out


def test_after_a_breakdown_what_has_begun_stays_and_moves_are_named(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, first = call(capsys, shop, "--from", MONDAY, "--keep")
    assert Path(first["kept"]) == shop / "week.json"
    first_on = first["bookings"][0]
    down = f"{first_on['machine']}: 2026-03-02 08:30 to 2026-03-03 12:00, spindle"
    code, again = call(capsys, shop, "--from", "2026-03-02 08:30", "--down", down)
    assert again["replanned"]
    stays = next(b for b in again["bookings"] if b["job"] == first_on["job"])
    assert stays["running"]
    assert stays["machine"] == first_on["machine"]
    assert stays["stages"][0]["begin"] >= "2026-03-03 12:00"
    before = {b["job"]: b["machine"] for b in first["bookings"]}
    for move in again["moves"]:
        assert move["from_machine"] == before[move["job"]]
    assert code == 0
    _, anew = call(capsys, shop, "--from", MONDAY, "--anew")
    assert not anew["replanned"]


def test_a_quote_is_promised_a_day(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, week = call(capsys, shop, "--from", MONDAY, "--quote", shop / "click")
    assert code == 0
    assert {b["job"] for b in week["bookings"]} == {"wheel", "punch"}
    promise = week["promise"]
    assert promise["job"] == "click"
    assert promise["held_share"] >= 0.9
    assert promise["likely_day"] <= promise["day"]
    assert datetime.fromisoformat(promise["day"]).weekday() < 3


def test_a_job_that_cannot_be_read_is_left_out_and_named(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "click" / "program.nc").unlink()
    (shop / "punch" / "job.toml").write_text("format = 'kerfwright-job'\n", encoding="utf-8")
    code, week = call(capsys, shop, "--from", MONDAY)
    assert code == 0
    assert [b["job"] for b in week["bookings"]] == ["wheel"]
    assert codes(week).count("schedule-unread") == 2


def test_a_job_that_fits_no_machine_is_refused_and_the_rest_planned(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    park = PARK.replace('id = "M1"', 'id = "M1"\ndefinition = "generic-inch"').replace(
        'wire = "0.25 mm"', 'wire = "0.010 in"'
    )
    park = park.replace(
        'definition = "generic-mm"\nwire = "0.01 in"', 'definition = "generic-inch"'
    )
    (shop / "park.toml").write_text(park, encoding="utf-8")
    code, week = call(capsys, shop, "--from", MONDAY)
    assert code == 1
    assert set(week["left"]) == set(WANTED)
    assert "its program is for generic-mm" in week["left"]["wheel"]


@pytest.mark.parametrize(
    ("old", "new", "code", "said"),
    [
        ('tue = ["07:00-12:00", "12:30-16:00"]', 'tue = ["7-12"]', "table-value", "tue"),
        ('tue = ["07:00-12:00"', 'tue = ["07:00-13:00"', "schedule-hours", "overlap"),
        ('tue = ["07:00-12:00"', 'tues = ["07:00-12:00"', "table-key", "tues"),
        ("quantity = 2", "quantity = 0", "table-value", "quantity"),
        ("due = 2026-03-03", 'due = "tomorrow"', "table-value", "due"),
        ('wire = "0.25 mm"', 'wire = "0.25"', "table-value", "wire"),
        ('wire = "0.25 mm"', 'wire = "0.33 mm"', "table-value", "guides"),
        ('definition = "generic-mm"', 'definition = "other"', "park-broken", "other"),
        ('id = "M2"', 'id = "M1"', "table-value", "ids of their own"),
        ("version = 1", "version = 2", "park-broken", "version"),
        ("[attendant]", "[attendant", "park-broken", "TOML"),
        ('fixture = "vice"', 'machines = ["M7"]', "table-value", "M7"),
        ("[[machine]]\nid = \"M2\"", "[figures]\nshare_in_time = 0.99\n[[machine]]\nid = \"M2\"",
         "table-value", "share_in_time"),
        ('id = "M1"', 'id = "M1"\ndown = ["2026-03-03 08:00"]', "table-value", "down"),
    ],
)  # fmt: skip
def test_a_park_that_cannot_be_is_refused_by_its_key(
    shop: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, code: str, said: str
) -> None:
    assert old in PARK
    (shop / "park.toml").write_text(PARK.replace(old, new, 1), encoding="utf-8")
    exit_code, fault = call(capsys, shop, "--from", MONDAY)
    assert exit_code == 2
    assert fault["code"] == code
    assert said in fault["message"] + fault["where"] + fault["remedy"]
    assert fault["remedy"]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--down", "M9: 2026-03-02 08:00 to 2026-03-02 09:00"), "schedule-down-text"),
        (("--down", "M1: 2026-03-02 09:00 to 2026-03-02 08:00"), "schedule-down-text"),
        (("--down", "M1"), "schedule-down-text"),
        (("--park", "nowhere.toml"), "park-missing"),
        (("--from", "monday"), "wrong-call"),
    ],
)
def test_a_wrong_call_is_named(
    shop: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, str], code: str
) -> None:
    exit_code, fault = call(capsys, shop, "--from", MONDAY, *words)
    assert exit_code == 2
    assert fault["code"] == code


def test_a_kept_timetable_that_was_spoilt_is_refused(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "week.json").write_text('{"format": "kerfwright-week", "version": 1}', encoding="utf-8")
    code, fault = call(capsys, shop, "--from", MONDAY)
    assert (code, fault["code"]) == (2, "week-broken")
    assert "--anew" in fault["remedy"]


def test_the_park_speaks_of_a_job_that_is_not_there(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "park.toml").write_text(PARK + '[job.clik]\nafter = ["gone"]\n', encoding="utf-8")
    _, week = call(capsys, shop, "--from", MONDAY)
    assert "schedule-unknown-job" in codes(week)


def test_the_exact_search_says_what_it_proved(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if not has_exact():
        pytest.skip("the exact search of timetables is not installed")
    words = ["schedule", str(shop), "--from", MONDAY, "--goal", "end", "--seconds", "3", "--json"]
    assert run([*words, "--engine", "exact"]) == 0
    week = json.loads(capsys.readouterr().out)
    assert week["at_least_min"] <= week["value_min"]
    assert week["proved"] == (week["at_least_min"] == week["value_min"])


def test_without_the_exact_search_it_says_how_to_get_it(
    shop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kerfwright.adapters.exact_timetable.find_spec", lambda _name: None)
    assert run(["schedule", str(shop), "--from", MONDAY, "--engine", "exact"]) == 2
    assert "kerfwright[schedule]" in capsys.readouterr().err


@pytest.mark.parametrize("pieces", [1, 3])
def test_a_load_has_the_minutes_of_its_strip_and_the_breaks_of_its_estimate(
    kept: Path, pieces: int
) -> None:
    result = plan_job(read_request(kept / "wheel"))
    strip = job_strip(result)
    assert strip is not None
    assert result.estimate is not None
    splitting = Splitting(
        least_alone_min=10, longest_moment_min=60, share_in_time=0.5, hand_share=0.3
    )
    load = load_of(result, strip, Wish(id="wheel", quantity=pieces), splitting=splitting)
    once = sum(s.minutes for s in strip.stretches if s.kind == "set-up")
    likely = sum(s.minutes.likely for s in load.stages)
    assert likely == pytest.approx(once + pieces * (strip.total_min - once))
    (reason,) = (r for r in result.estimate.reasons if r.quantity == WIRE_BREAKS)
    breaks = sum(s.breaks for s in load.stages)
    assert breaks == pytest.approx(0.3 * pieces * float(dict(reason.inputs)["mean"]))
    assert all(s.planned_min(0.5) <= 60 for s in load.stages if s.is_attended)
    assert all(s.minutes.low < s.minutes.likely < s.minutes.high for s in load.stages)
    assert load.need.definition == "generic-mm"


def test_the_demo_keeps_a_week_that_can_be_planned_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["demo", "week", "-o", str(tmp_path / "week"), "--json"]) == 0
    week = json.loads(capsys.readouterr().out)
    assert week["holds"]
    assert len(week["bookings"]) == 8
    code, again = call(capsys, tmp_path / "week", "--from", "2026-03-03 07:30")
    assert code == 0
    assert again["replanned"]
    assert again["moves"] == []


def test_a_plan_anew_goes_on_from_what_was_marked(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = call(capsys, shop, "--from", MONDAY, "--keep")[1]
    touch = first["touches"][0]
    job = shop / touch["job"]
    words = ["mark", str(job), "--done", str(touch["stage"] + 1), "--at", "2026-03-02 09:30"]
    assert run([*words, "--took", "50"]) == 0
    assert run(["mark", str(job), "--break", "flushing", "--where", "H1", "--stood", "20"]) == 0
    capsys.readouterr()
    assert run(["mark", str(job), "--json"]) == 0
    marks = json.loads(capsys.readouterr().out)["marks"]
    assert [m["kind"] for m in marks] == ["done", "break"]
    # What nobody marked goes on as told, unless only marks are to count.
    told = call(capsys, shop, "--from", "2026-03-02 15:00")[1]
    marked = call(capsys, shop, "--from", "2026-03-02 15:00", "--by-marks")[1]
    running = {b["job"]: b["running"] for b in marked["bookings"]}
    assert running.pop(touch["job"])
    assert not any(running.values())
    assert any(b["running"] for b in told["bookings"] if b["job"] != touch["job"])
    assert run(["mark", str(job), "--take-back", marks[0]["id"]]) == 0
    assert run(["mark", str(job), "--done", "400"]) == 2
