"""Others are told once of each quoted or ordered job, signed, and learn nothing of the shop."""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.adapters.enquiry_store import open_store
from kerfwright.adapters.hooks.event import signature
from kerfwright.adapters.hooks.outbox import OUTBOX, PAUSES_S, deliver, notice, try_again, waiting
from kerfwright.adapters.hooks.sending import NotToldError, send
from kerfwright.adapters.hooks.settings import HOOKS, Hook, read_hooks
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.cli.run import run
from kerfwright.foundation.errors import InputError
from kerfwright.workbench.telling import turn

SECRET = b"a secret of the office, 32 bytes"
HEAD = 'format = "kerfwright-hooks"\nversion = 1\n'


def test_the_signature_is_that_of_the_standard() -> None:
    # RFC 4231, 4.8: test case 7; its data, parted at its full stop (from memory).
    head = "This is a test using a larger than block-size key and a larger than block-size data"
    rest = b" The key needs to be hashed before being used by the HMAC algorithm."
    assert signature(b"\xaa" * 131, head, rest) == (
        "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2"
    )


class Office:
    """A server that keeps what it is told, and answers as it is set."""

    def __init__(self) -> None:
        self.answer, self.headers = 204, {}
        self.heard: list[tuple[dict[str, str], bytes]] = []
        office = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                office.heard.append((dict(self.headers.items()), body))
                self.send_response(office.answer)
                for name, value in office.headers.items():
                    self.send_header(name, value)
                self.end_headers()

            def log_message(self, *_: Any) -> None: ...

        self.server = HTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self.server.server_port}/edm"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()


@pytest.fixture
def office() -> Iterator[Office]:
    found = Office()
    yield found
    found.server.shutdown()
    found.server.server_close()


@pytest.fixture
def jobs(tmp_path: Path) -> Path:
    folder = EnquiryFolder(folder=tmp_path / "jobs")
    folder.ready()
    for name in ("wheel", "arm"):
        one = folder.add(f"{name}.dxf", b"0", added=datetime(2027, 1, 31, tzinfo=UTC))
        folder.change(one.id, lambda now: now.with_lines({"customer": "Mill", "due": "2027-03-01"}))
    estimate = {
        "currency": "EUR", "times": [{"operation": "set-up", "minutes": 45}],
        "prices": [{"quantity": 2, "each": "50.00", "likely": "100.00", "lines": [{"margin": 9}],
                    "spread": [1]}],
    }  # fmt: skip
    (folder.folder / "wheel" / "estimate.json").write_text(json.dumps(estimate))
    return folder.folder


def look(jobs: Path, *hooks: Hook) -> int:
    return notice(jobs, [e for e in EnquiryFolder(folder=jobs).all() if isinstance(e, Enquiry)],
                  hooks)  # fmt: skip


def staged(jobs: Path, name: str, stage: Stage) -> None:
    EnquiryFolder(folder=jobs).change(name, lambda now: now.at_stage(stage))


def hook(**more: Any) -> Hook:
    known = {"name": "office", "stages": frozenset({Stage.QUOTED, Stage.ORDERED})}
    return Hook(**(known | more))


def test_each_change_is_told_once_by_a_file(jobs: Path, tmp_path: Path) -> None:
    drop = tmp_path / "drop"
    to = hook(folder=drop)
    staged(jobs, "arm", Stage.QUOTED)
    # What was quoted before anybody listened is told nobody.
    assert look(jobs, to) == 0
    staged(jobs, "wheel", Stage.QUOTED)
    assert look(jobs, to) == 1
    assert look(jobs, to) == 0
    assert deliver(jobs, [to], send) == (1, 0)
    assert deliver(jobs, [to], send) == (0, 0)
    (file,) = drop.iterdir()
    event = json.loads(file.read_text(encoding="utf-8"))
    assert file.stem == event["event"]
    assert event["stage"] == "quoted"
    assert event["job"] == {
        "id": "wheel", "title": "wheel.dxf", "customer": "Mill", "reference": "", "revision": "",
        "due": "2027-03-01", "material": "", "quantity": None, "currency": "EUR",
        "prices": [{"quantity": 2, "each": "50.00", "total": "100.00"}],
    }  # fmt: skip
    # Nothing of how the price came about, of programs, or of the figures of the shop.
    for word in ("set-up", "margin", "spread", "minutes", "rate"):
        assert word not in file.read_text(encoding="utf-8")
    staged(jobs, "wheel", Stage.DONE)
    assert look(jobs, to) == 0
    staged(jobs, "wheel", Stage.ORDERED)
    assert look(jobs, to) == 1


def test_a_call_is_signed_and_says_what_the_file_does(jobs: Path, office: Office) -> None:
    to = hook(url=office.url, secret=SECRET)
    look(jobs, to)
    staged(jobs, "wheel", Stage.ORDERED)
    look(jobs, to)
    assert deliver(jobs, [to], send) == (1, 0)
    ((headers, body),) = office.heard
    moment = headers["Kerfwright-Timestamp"]
    assert headers["Kerfwright-Signature"] == f"sha256={signature(SECRET, moment, body)}"
    assert json.loads(body)["event"] == headers["Kerfwright-Event"]
    assert abs(int(moment) - datetime.now(UTC).timestamp()) < 60
    assert SECRET not in body
    assert SECRET.decode() not in str(headers)


def test_what_is_not_taken_is_tried_again_and_at_last_kept_aside(
    jobs: Path, office: Office
) -> None:
    to = hook(url=office.url, secret=SECRET)
    look(jobs, to)
    staged(jobs, "wheel", Stage.ORDERED)
    look(jobs, to)
    office.answer = 503
    now = 0.0
    assert deliver(jobs, [to], send, now=now) == (0, 1)
    # Not before its time.
    assert deliver(jobs, [to], send, now=now + PAUSES_S[0] - 1) == (0, 0)
    for pause in PAUSES_S:
        now += pause
        assert deliver(jobs, [to], send, now=now) == (0, 1)
    (left,) = waiting(jobs)
    assert left.has_failed
    assert "503" in left.why
    assert deliver(jobs, [to], send, now=now * 9) == (0, 0)
    assert SECRET not in b"".join(p.read_bytes() for p in (jobs / OUTBOX).rglob("*.json"))
    office.answer = 200
    assert try_again(jobs) == 1
    assert deliver(jobs, [to], send) == (1, 0)
    # The same event all the while: whoever heard it twice can tell.
    assert len({headers["Kerfwright-Event"] for headers, _ in office.heard}) == 1
    assert not waiting(jobs)


def test_a_detour_is_not_followed_and_nobody_there_is_said(office: Office) -> None:
    office.answer, office.headers = 307, {"Location": office.url}
    to = hook(url=office.url, secret=SECRET)
    with pytest.raises(NotToldError, match="307"):
        send(to, "a", b"{}")
    assert len(office.heard) == 1
    with pytest.raises(NotToldError, match="did not answer"):
        send(hook(url="http://127.0.0.1:9/", secret=SECRET), "a", b"{}")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x", "TOML"),
        ("", "begin with"),
        (HEAD + "[[hook]]\nfolder = 'a'", "name"),
        (HEAD + "[[hook]]\nname = 'a'", "folder or url"),
        (HEAD + "[[hook]]\nname = 'a'\nfolder = 'a'\nurl = 'https://a'", "folder or url"),
        (HEAD + "[[hook]]\nname = 'a'\nurl = 'http://office.example/'\nsecret='../s'", "https"),
        (HEAD + "[[hook]]\nname = 'a'\nurl = 'file:///etc/passwd'\nsecret='../s'", "https"),
        (HEAD + "[[hook]]\nname = 'a'\nurl = 'https://u:p@a'\nsecret='../s'", "password"),
        (HEAD + "[[hook]]\nname = 'a'\nurl = 'https://a'", "secret"),
        (HEAD + "[[hook]]\nname = 'a'\nurl = 'https://a'\nsecret='s'", "among the jobs"),
        (HEAD + "[[hook]]\nname = 'a'\nurl = 'https://a'\nsecret='../none'", "cannot be read"),
        (HEAD + "[[hook]]\nname = 'a'\nurl = 'https://a'\nsecret='../short'", "bytes"),
        (HEAD + "[[hook]]\nname = 'a'\nfolder = 'a'\non = ['sold']", "on is not of"),
        (HEAD + "[[hook]]\nname = 'a'\nfolder = 'a'\nsecrets = 1", "secrets is no key"),
        (HEAD + 2 * "[[hook]]\nname = 'a'\nfolder = 'a'\n", "one name"),
    ],
)
def test_settings_that_cannot_be_meant_are_refused(jobs: Path, text: str, said: str) -> None:
    (jobs.parent / "short").write_bytes(b"short")
    (jobs / HOOKS).write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said) as refused:
        read_hooks(jobs)
    assert refused.value.code == "hooks-broken"


def test_the_page_and_the_command_tell_the_same(
    jobs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = open_store(jobs)
    turn(store)
    assert not (jobs / OUTBOX).exists()
    drop = tmp_path / "drop"
    text = f"{HEAD}[[hook]]\nname = 'office'\nfolder = '{drop.as_posix()}'\n"
    (jobs / HOOKS).write_text(text, encoding="utf-8")
    turn(store)
    staged(jobs, "wheel", Stage.ORDERED)
    store.index.look_again()
    turn(store)
    assert len(list(drop.iterdir())) == 1
    store.index.close()
    staged(jobs, "arm", Stage.QUOTED)
    assert run(["hooks", "--jobs", str(jobs), "--send", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["told"] == 1
    assert len(list(drop.iterdir())) == 2
    shutil.rmtree(drop)
    drop.write_text("no folder")
    staged(jobs, "arm", Stage.ORDERED)
    assert run(["hooks", "--jobs", str(jobs), "--send"]) == 1
    assert "arm ordered to office" in capsys.readouterr().out
