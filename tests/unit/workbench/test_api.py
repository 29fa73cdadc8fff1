"""The HTTP face of the jobs, with real computations behind it."""

from __future__ import annotations

import io
import itertools
import json
import re
import struct
from collections.abc import Iterator
from pathlib import Path

import ezdxf
import pytest
from starlette.testclient import TestClient
from tests.part_strings import pallets

from described_client import DescribedClient
from kerfwright.adapters import job_folder
from kerfwright.app.records import JobRequest
from kerfwright.wiring import plan_job
from kerfwright.workbench import jobs
from kerfwright.workbench.app import Settings, create_app
from page_client import WHEEL, changed, dropped, waited


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


@pytest.fixture(scope="module")
def job(client: TestClient) -> str:
    """Return a job that was asked, computed and proved."""
    name: str = dropped(client, "wheel.dxf", WHEEL.read_bytes())["job"]["id"]
    answer = changed(
        client, name, 1, material="C270 brass", height="6 mm", tolerance="±5 µm", quantity="1, 5"
    )
    assert answer.status_code == 200
    assert answer.headers["ETag"] == '"2"'
    waited(client, name, "verdict")
    return name


def test_the_page_says_what_the_command_line_says(client: TestClient, job: str) -> None:
    draft = waited(client, job, "draft")["draft"]
    same = plan_job(
        JobRequest(
            drawing=WHEEL,
            material="C270 brass",
            height="6 mm",
            tolerance="±5 µm",
            quantities=(1, 5),
        )
    )
    assert same.estimate is not None
    assert [p["likely"] for p in draft["prices"]] == [str(p.likely) for p in same.estimate.prices]
    assert len(draft["passes"]) == len(same.plan.passes)
    text = client.get(f"/api/jobs/{job}/files/program.nc").text
    assert same.program is not None
    # The title holds the name of the file, which is another.
    assert text.splitlines()[2:] == same.program.splitlines()[2:]


def test_what_the_drawing_says_and_reasons_have_their_texts_in_inches_alone_too(
    client: TestClient, job: str
) -> None:
    says = waited(client, job, "draft")["draft"]["says"]
    words = {r["words"]: r["words_inch"] for one in says for r in one["readings"]}
    assert words["64 mm (2.51968 in)"] == "2.51968 in"
    found = client.get(f"/api/jobs/{job}/reasons").json()
    feed = found["plan/passes/1/feed_mm_per_min"]
    assert feed["in_inches"] == {"0.25 mm hard brass": "0.0098 in hard brass"}
    shown = [
        one["in_inches"].get(text, text)
        for one in found.values()
        for text in (one["formula"], *(said for _, said in one["inputs"]))
        if isinstance(text, str)
    ]
    metric = re.compile(r"\d\s?(?:mm|µm)\b")
    assert [text for text in (*shown, *words.values()) if metric.search(text)] == []


def test_a_text_that_cannot_be_read_changes_nothing(client: TestClient, job: str) -> None:
    before = client.get(f"/api/jobs/{job}").json()
    refused = changed(client, job, before["revision"], tolerance="5", finish="N6")
    assert refused.status_code == 422
    assert refused.json()["code"] == "unit-missing"
    assert "±0.005 mm" in refused.json()["remedy"]
    assert client.get(f"/api/jobs/{job}").json()["revision"] == before["revision"]


def test_the_second_of_two_windows_is_told(client: TestClient) -> None:
    name = dropped(client, "two.dxf")["job"]["id"]
    assert changed(client, name, 1, material="D2").status_code == 200
    late = changed(client, name, 1, material="brass")
    assert late.status_code == 409
    assert late.json()["code"] == "changed-elsewhere"
    assert client.get(f"/api/jobs/{name}").json()["card"]["material"] == "D2"


def test_a_change_without_a_revision_is_refused(client: TestClient, job: str) -> None:
    assert client.patch(f"/api/jobs/{job}", json={"lines": {}}).status_code == 428


def test_an_old_program_is_not_given_out_for_what_is_asked_now(client: TestClient) -> None:
    name = dropped(client, "moving.dxf")["job"]["id"]
    changed(client, name, 1, material="C270 brass", height="6 mm")
    waited(client, name, "verdict")
    assert client.get(f"/api/jobs/{name}/files/program.nc").status_code == 200
    revision = client.get(f"/api/jobs/{name}").json()["revision"]
    # Thicker than the machine takes: the folder keeps the earlier program, the page must not.
    changed(client, name, revision, height="900 mm")
    assert client.get(f"/api/jobs/{name}/files/program.nc").status_code == 409
    refused = waited(client, name, "verdict")
    assert not refused["verdict"]["is_proved"]
    assert refused["draft"]["prices"] == []
    assert "250 mm" in refused["draft"]["not_offered"]
    (pieces,) = (x for x in refused["draft"]["ledger"] if x["name"] == "quantity")
    assert pieces["answer"]["metric"] == "not offered as asked"
    (card,) = (c for c in client.get("/api/jobs").json()["jobs"] if c["id"] == name)
    assert (card["each"], card["not_offered"]) == ("", refused["draft"]["not_offered"])
    assert client.get(f"/api/jobs/{name}/files/program.nc").status_code == 409


def test_customer_and_date_leave_the_proof_standing(client: TestClient, job: str) -> None:
    before = waited(client, job, "verdict")
    after = changed(client, job, before["revision"], customer="Observatory", due="2030-01-31")
    assert after.json()["card"]["is_proved"]
    asked = {line["name"]: line["asked"] for line in after.json()["draft"]["ledger"]}
    assert asked["customer"] == "Observatory"


def test_undo_and_redo_survive_the_server(client: TestClient) -> None:
    name = dropped(client, "undo.dxf")["job"]["id"]
    changed(client, name, 1, material="D2")
    undone = client.post(f"/api/jobs/{name}/undo", headers={"If-Match": "2"})
    assert undone.json()["card"]["material"] == ""
    folder = Path(client.get("/api/about").json()["jobs_folder"])
    kept = json.loads((folder / name / "enquiry.json").read_text(encoding="utf-8"))
    assert kept["future"] == [{"material": "D2"}]
    again = client.post(f"/api/jobs/{name}/redo", headers={"If-Match": "3"})
    assert again.json()["card"]["material"] == "D2"
    assert client.post(f"/api/jobs/{name}/redo", headers={"If-Match": "4"}).status_code == 409


def test_the_same_drawing_is_noticed_and_what_is_no_drawing_refused(client: TestClient) -> None:
    first = dropped(client, "same.dxf", b"0\nEOF\n")["job"]
    second = dropped(client, "other name.dxf", b"0\nEOF\n")["job"]
    assert second["same_drawing"] == [first["id"]]
    assert dropped(client, "drawing.pdf", b"%PDF")["fault"]["code"] == "not-a-drawing"
    assert dropped(client, "empty.dxf", b"")["fault"]["code"] == "drawing-empty"


def test_a_drawing_that_cannot_be_read_is_a_job_with_its_fault(client: TestClient) -> None:
    name = dropped(client, "broken.dxf", b"no drawing at all")["job"]["id"]
    fault = waited(client, name, "fault")["fault"]
    assert fault["message"]
    (card,) = client.get("/api/jobs", params={"search": "broken"}).json()["jobs"]
    assert card["attention"][0] == fault["message"]


def test_a_removed_job_is_off_the_list(client: TestClient) -> None:
    name = dropped(client, "leaving.dxf")["job"]["id"]
    assert client.delete(f"/api/jobs/{name}").status_code == 204
    assert client.get(f"/api/jobs/{name}").status_code == 404


def test_a_layer_can_be_given_another_use(client: TestClient) -> None:
    name = dropped(client, "layers.dxf")["job"]["id"]
    before = waited(client, name, "draft")
    layer = before["draft"]["contours"][0]["layer"]
    assert changed(client, name, 1, **{f"layer {layer}": "ignore"}).status_code == 200
    after = waited(client, name, "draft")
    assert after["draft"]["geometry_key"] != before["draft"]["geometry_key"]
    assert all(c["layer"] != layer for c in after["draft"]["contours"])


@pytest.mark.parametrize(
    ("line", "text", "code", "said"),
    [
        ("role ZZ", "not-cut", "contour-unknown", "ZZ"),
        ("contour ZZ9", "finish=Ra 0.4 µm", "contour-unknown", "ZZ9; it has P1, H1"),
        ("contour H1, ZZ9", "finish=Ra 0.4 µm", "contour-unknown", "ZZ9; it has P1, H1"),
        ("start ZZ", "1 mm, 1 mm", "contour-unknown", "ZZ; it has P1, H1"),
        ("coreless LINE-12E", "small", "contour-unknown", "LINE-12E; it has P1, H1"),
        ("role P1", "start", "start-not-a-circle", "P1 is no circle"),
        ("role LINE-FFFF", "reference", "piece-unknown", "LINE-FFFF"),
        ("layer nope", "ignore", "unknown-layer", 'no layer "nope"'),
    ],
)
def test_a_line_about_what_the_drawing_does_not_have_is_refused_and_not_kept(
    client: TestClient, line: str, text: str, code: str, said: str
) -> None:
    name = dropped(client, "names.dxf")["job"]["id"]
    # Also before anything is drafted, and before there is anything to plan.
    answer = changed(client, name, 1, **{line: text})
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert said in answer.json()["message"]
    assert answer.json()["remedy"]
    found = client.get(f"/api/jobs/{name}").json()
    assert (found["asked"], found["revision"]) == ({}, 1)
    waited(client, name, "draft")
    assert changed(client, name, 1, **{line: text}).json()["code"] == code
    # What the drawing has is taken, in a drawing that has it.
    assert changed(client, name, 1, **{"contour H1": "finish=Ra 0.4 µm"}).status_code == 200


def test_a_line_that_stands_and_names_nothing_hinders_no_other(
    client: TestClient, tmp_path: Path
) -> None:
    name = dropped(client, "old.dxf")["job"]["id"]
    desk = client.app.state.desk  # type: ignore[attr-defined]
    # As it was kept before names were held to the drawing.
    desk.folder.change(name, lambda now: now.with_lines({"role ZZ": "not-cut"}))
    waited(client, name, "fault")
    assert changed(client, name, 2, **{"role H1": "not-cut"}).status_code == 200
    assert changed(client, name, 3, **{"role ZZ": ""}).status_code == 200
    assert waited(client, name, "draft")["fault"] is None


def test_the_ledger_of_a_drawing_without_unit_can_still_say_it(client: TestClient) -> None:
    document = ezdxf.new("R2010", units=0)
    document.modelspace().add_circle((0, 0), 5)
    stream = io.StringIO()
    document.write(stream)
    name = dropped(client, "unitless.dxf", stream.getvalue().encode())["job"]["id"]
    before = waited(client, name, "draft")
    assert before["fault"]["code"] == "units-unknown"
    assert "units" in [line["name"] for line in before["draft"]["ledger"]]
    # Its lines are drawn all the same; no length of them is spoken of.
    sketch = client.get(f"/api/jobs/{name}/geometry").content
    assert struct.unpack("<I", sketch[4:8]) == (1,)
    assert before["draft"]["findings"] == []
    changed(client, name, before["revision"], units="in")
    after = waited(client, name, "draft")
    assert after["fault"] is None
    assert after["draft"]["contours"][0]["bounds_mm"][2] == pytest.approx(127.0)


def test_a_drawing_without_a_closed_contour_shows_its_lines_and_what_would_close_them(
    client: TestClient,
) -> None:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    corners = [(0, 0), (40, 0), (40, 20), (0, 20), (0, 1)]
    for begin, end in itertools.pairwise(corners):
        space.add_line(begin, end)
    stream = io.StringIO()
    document.write(stream)
    name = dropped(client, "open.dxf", stream.getvalue().encode())["job"]["id"]
    found = waited(client, name, "draft")
    assert found["fault"]["code"] == "no-closed-contour"
    assert struct.unpack("<I", client.get(f"/api/jobs/{name}/geometry").content[4:8]) == (4,)
    (finding,) = found["draft"]["findings"]
    assert (finding["where"]["x_mm"], finding["where"]["y_mm"]) == (0, 0)
    assert "1.0000 mm apart" in finding["message"]
    assert "Join the two ends" in finding["remedy"]
    assert found["draft"]["prices"] == []


def test_any_number_opens_its_reason(client: TestClient, job: str) -> None:
    found = client.get(f"/api/jobs/{job}/reasons").json()
    draft = waited(client, job, "draft")["draft"]
    keys = {key for line in draft["ledger"] for key in line["why"]}
    assert keys <= set(found)
    place = "estimate/prices/5/likely"
    one = client.get(f"/api/jobs/{job}/reasons", params={"key": place}).json()
    assert list(one) == [place]
    assert one[place]["inputs"]
    assert one[place]["range"]["low"] < one[place]["value"] < one[place]["range"]["high"]
    assert client.get(f"/api/jobs/{job}/reasons", params={"key": "x"}).status_code == 404


def test_geometry_and_wire_come_as_bytes(client: TestClient, job: str) -> None:
    assert client.get(f"/api/jobs/{job}/geometry").content[:4] == b"KWG1"
    assert client.get(f"/api/jobs/{job}/wire").content[:4] == b"KWW1"


def test_only_files_of_a_job_are_given_out(client: TestClient, job: str) -> None:
    for name in ("enquiry.json", "..%2f..%2fetc%2fpasswd", ".kerfwright-files"):
        assert client.get(f"/api/jobs/{job}/files/{name}").status_code == 404


def test_the_files_given_out_are_those_of_a_job_folder() -> None:
    names = {
        getattr(job_folder, n) for n in ("JOB", "PLAN", "PROGRAM", "PROOF", "ESTIMATE", "PICTURE")
    }
    assert set(jobs.MEDIA) == names


def test_nothing_of_the_server_loads_from_elsewhere(client: TestClient) -> None:
    assert client.get("/docs").status_code == 404
    assert client.get("/redoc").status_code == 404


def test_a_page_hears_what_changed(client: TestClient, job: str) -> None:
    with client.websocket_connect("ws://127.0.0.1/api/events") as socket:
        revision = client.get(f"/api/jobs/{job}").json()["revision"]
        changed(client, job, revision, customer="Town clock")
        heard = socket.receive_json()
        assert heard == {"type": "job", "job": job, "revision": revision + 1}


def test_the_cut_is_there_once_it_is_proved(client: TestClient) -> None:
    name = dropped(client, "cut.dxf", WHEEL.read_bytes())["job"]["id"]
    early = client.get(f"/api/jobs/{name}/cut/deviations")
    assert early.status_code == 409
    assert early.json()["code"] == "not-proved"
    changed(client, name, 1, material="C270 brass", height="6 mm")
    verdict = waited(client, name, "verdict")["verdict"]
    for what, magic in (("path", b"KWP1"), ("pieces", b"KWG1"), ("deviations", b"KWD1")):
        answer = client.get(f"/api/jobs/{name}/cut/{what}")
        assert answer.status_code == 200
        assert answer.content[:4] == magic
    assert len(verdict["pieces"]) == 8
    assert all(one["is_attended"] and not one["caution"] for one in verdict["pieces"])
    assert verdict["worst"]
    reasons = client.get(f"/api/jobs/{name}/reasons").json()
    assert {"piece 1 mass", "worst place 1 deviation", "proof/max_gouge_um"} <= set(reasons)
    assert {f["why"] for f in verdict["findings"]} <= set(reasons)


def test_several_contours_are_asked_at_once_and_stand_in_one_line(client: TestClient) -> None:
    name: str = dropped(client, "own.dxf", WHEEL.read_bytes())["job"]["id"]
    changed(client, name, 1, material="C270 brass", height="6 mm", tolerance="±10 µm")
    answer = client.patch(
        f"/api/jobs/{name}",
        json={"own": [{"contours": ["H1", "H2"], "demands": {"finish": "Ra 0.4 µm"}}]},
        headers={"If-Match": '"2"'},
    )
    assert answer.status_code == 200, answer.text
    draft = waited(client, name, "draft")["draft"]
    (line,) = (one for one in draft["ledger"] if one["name"].startswith("contour"))
    assert (line["title"], line["asked"]) == ("Contours H1, H2", "finish=Ra 0.4 µm")
    own = {c["id"]: c["own"] for c in draft["contours"]}
    assert own["H1"] == own["H2"] == {"finish": "Ra 0.4 µm"}
    assert own["H3"] == {}
    bad = client.patch(
        f"/api/jobs/{name}",
        json={"own": [{"contours": ["H1"], "demands": {"finish": "7"}}]},
        headers={"If-Match": '"3"'},
    )
    assert bad.status_code == 422


def test_a_place_is_tried_without_being_kept_and_kept_by_its_line(client: TestClient) -> None:
    name: str = dropped(client, "places.dxf", WHEEL.read_bytes())["job"]["id"]
    changed(client, name, 1, material="C270 brass", height="6 mm")
    waited(client, name, "draft")
    tried = client.post(
        f"/api/jobs/{name}/places", json={"contour": "H7", "what": "start", "text": "1mm, 0mm"}
    ).json()
    assert not tried["is_refused"]
    assert tried["text"] == "1 mm, 0 mm"
    far = client.post(
        f"/api/jobs/{name}/places",
        json={"contour": "H7", "what": "start", "x_mm": 100, "y_mm": 0},
    ).json()
    assert far["is_refused"]
    assert far["checks"][0] == {
        "limit": "in the waste",
        "said": {"metric": "not in the waste", "inch": "not in the waste"},
        "state": "refused",
    }
    unread = client.post(
        f"/api/jobs/{name}/places", json={"contour": "H7", "what": "start", "text": "12.5"}
    )
    assert unread.status_code == 422
    answer = changed(client, name, 2, **{"start H7": tried["text"]})
    assert answer.status_code == 200
    draft = waited(client, name, "verdict")["draft"]
    (bore,) = (c for c in draft["contours"] if c["id"] == "H7")
    assert bore["placed"] == ["start"]
    assert bore["start"][:2] == [1.0, 0.0]
    assert "[starts]" in (client.get(f"/api/jobs/{name}/files/job.toml").text)


def test_a_place_that_nothing_may_stand_at_is_refused_by_its_line_at_once(
    client: TestClient,
) -> None:
    name: str = dropped(client, "refused-places.dxf", WHEEL.read_bytes())["job"]["id"]
    changed(client, name, 1, material="C270 brass", height="6 mm")
    for line, text, words in (
        ("start H7", "100 mm, 0 mm", "not in the waste"),
        ("lead-in H7", "0 mm, 0 mm", "on the wall"),
        ("tab-width H7", "0.001 mm", "tab strength"),
        ("tab-width H7", "200 mm", "half the wall"),
    ):
        answer = changed(client, name, 2, **{line: text})
        assert answer.status_code == 422, line
        fault = answer.json()
        assert (fault["code"], fault["where"]) == ("place-refused", "H7")
        assert words in fault["message"]
    job = client.get(f"/api/jobs/{name}").json()
    assert job["card"]["revision"] == 2
    answer = changed(client, name, 2, **{"tab-width H7": "0.7 mm"})
    assert answer.status_code == 200
    (bore,) = (c for c in waited(client, name, "draft")["draft"]["contours"] if c["id"] == "H7")
    assert (bore["placed"], bore["tab_mm"]) == (["tab width"], 0.7)
    tried = client.post(
        f"/api/jobs/{name}/places",
        json={"contour": "H7", "what": "tab width", "text": "0.03 in"},
    ).json()
    assert not tried["is_refused"]
    assert tried["text"] == "0.762 mm"


def test_the_inside_of_an_opening_is_cut_away_where_its_line_says_so(client: TestClient) -> None:
    name = dropped(client, "inside.dxf", WHEEL.read_bytes())["job"]["id"]
    changed(client, name, 1, material="C270 brass", height="6 mm")
    refused = changed(client, name, 2, coreless="perhaps")
    assert (refused.status_code, refused.json()["code"]) == (422, "choice-unknown")
    after = changed(client, name, 2, **{"coreless": "never", "coreless H7": "always"})
    assert after.status_code == 200
    draft = waited(client, name, "draft")["draft"]
    away = {c["id"]: c["coreless"] for c in draft["contours"] if c["is_coreless"]}
    assert away == {"H7": "always"}
    said = {x["name"]: (x["title"], x["answer"]["metric"]) for x in draft["ledger"]}
    assert said["coreless"] == ("Insides", "H7 cut away whole")
    assert said["coreless H7"][0] == "Inside of H7"


def test_outlines_side_by_side_go_on_a_string_where_its_line_says_so(
    client: TestClient, tmp_path: Path
) -> None:
    name = dropped(client, "pallets.dxf", pallets(tmp_path).read_bytes())["job"]["id"]
    changed(client, name, 1, material="C270 brass", height="6 mm", tolerance="±10 µm")
    alone = waited(client, name, "draft")["draft"]
    refused = changed(client, name, 2, strings="perhaps")
    assert (refused.status_code, refused.json()["code"]) == (422, "choice-unknown")
    assert changed(client, name, 2, strings="auto").status_code == 200
    strung = waited(client, name, "draft")["draft"]
    said = {x["name"]: (x["title"], x["answer"]["metric"]) for x in strung["ledger"]}
    assert said["strings"] == ("Threading", "P1, P2, P3 on a string")
    assert float(strung["prices"][0]["each"]) < float(alone["prices"][0]["each"])
    remedies = {f["code"]: f["remedy"] for f in strung["findings"]}
    assert "--" not in remedies["parts-on-a-string"]


def test_a_role_is_shown_as_a_persons_word_and_a_reference_line_stays_in_reach(
    client: TestClient,
) -> None:
    name: str = dropped(client, "roles.dxf", WHEEL.read_bytes())["job"]["id"]
    changed(client, name, 1, material="C270 brass", height="6 mm")
    answer = changed(client, name, 2, **{"role H1,H7": "reference"})
    assert answer.status_code == 200
    draft = waited(client, name, "draft")["draft"]
    assert [c["id"] for c in draft["contours"]][-2:] == ["H1", "H7"]
    last = draft["contours"][-1]
    assert (last["use"], last["role_from"], last["is_cut"]) == ("reference", "person", False)


def test_what_brings_an_uncertainty_is_named_in_plain_words(client: TestClient, job: str) -> None:
    reasons = client.get(f"/api/jobs/{job}/reasons").json()
    names = {name for one in reasons.values() for name, _ in one["shares"]}
    rate = {name.removeprefix("cutting rate: ") for name in names if "cutting rate: " in name}
    assert "just this machine with this material and wire in this pass" in rate
    assert not {"combination", "family", "job", "cut"} & rate
