"""`kerfwright seats`, and a server that others can reach."""

from __future__ import annotations

import io
import json
import os
import re
import ssl
import subprocess
import sys
import urllib.error
import urllib.request
from http.cookiejar import CookieJar
from pathlib import Path

import pytest

from kerfwright.cli.run import run
from seated import FIRM, PASSWORD
from tls_files import certificate_of


def call(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: object
) -> tuple[int, str]:
    monkeypatch.setattr(sys, "stdin", io.StringIO(PASSWORD + "\n"))
    code = run([str(word) for word in words])
    shown = capsys.readouterr()
    return code, shown.out + shown.err


def test_seats_are_added_changed_listed_and_taken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def seats(*words: str) -> tuple[int, str]:
        return call(capsys, monkeypatch, "seats", *words, "--jobs", tmp_path)

    code, said = seats("list")
    assert code == 0
    assert "asks for no log-in" in said
    code, said = seats("add", "tom", "--role", "attendant", "--password-stdin")
    assert code == 2
    assert "owner" in said
    code, said = seats("add", "Ada", "--role", "owner", "--password-stdin")
    assert (code, "From now on" in said) == (0, True)
    guest = ("--role", "guest", "--customer", FIRM, "--password-stdin")
    assert seats("add", "buyer", *guest)[0] == 0
    assert seats("role", "buyer", "programmer")[0] == 0
    assert seats("password", "buyer", "--password-stdin")[0] == 0
    assert seats("password", "nobody", "--password-stdin")[0] == 2
    _, said = seats("list", "--json")
    assert [(s["name"], s["role"]) for s in json.loads(said)["seats"]] == [
        ("ada", "owner"),
        ("buyer", "programmer"),
    ]
    assert seats("remove", "ada")[0] == 2
    assert seats("remove", "buyer")[0] == 0
    _, said = seats("audit", "--csv")
    assert [row.split(",")[6] for row in said.splitlines()[1:]] == [
        "seats add",
        "seats add",
        "seats role",
        "seats password",
        "seats remove",
    ]
    assert PASSWORD not in said
    assert seats("audit", "--check") == (0, "every line is as it was written\n")
    assert "seats role" in seats("audit")[1]
    code, said = seats("remove", "ada")
    assert (code, "asks for no log-in" in said) == (0, True)
    assert seats("audit")[0] == 2


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--host", "0.0.0.0", "--name", "shop"), "would go over the line"),  # noqa: S104 refused
        (("--behind-proxy", "127.0.0.1", "--name", "shop"), "nobody could log in"),
        (("--host", "elsewhere"), "no address"),
    ],
)
def test_a_server_that_would_be_open_does_not_start(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    code: str,
) -> None:
    ended, said = call(
        capsys, monkeypatch, "serve", "--no-browser", "--port", "0", "--jobs", tmp_path, *words
    )
    assert ended == 2
    assert code in said


def test_log_in_goes_by_tls(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = tmp_path / "jobs"
    add = ("seats", "add", "ada", "--role", "owner", "--password-stdin", "--jobs", jobs)
    assert call(capsys, monkeypatch, *add)[0] == 0
    certificate, key = certificate_of(tmp_path)
    environment = {k: v for k, v in os.environ.items() if k != "PYTEST_CURRENT_TEST"}
    server = subprocess.Popen(  # noqa: S603 our own program
        [
            *(sys.executable, "-m", "kerfwright", "serve", "--no-browser", "--port", "0"),
            *("--jobs", str(jobs), "--certificate", str(certificate), "--key", str(key)),
        ],
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    try:
        assert server.stdout is not None
        found = re.search(r"https://127\.0\.0\.1:(\d+)", server.stdout.readline())
        assert found
        trust = ssl.create_default_context(cafile=str(certificate))
        browser = urllib.request.build_opener(
            urllib.request.HTTPSHandler(context=trust),
            urllib.request.HTTPCookieProcessor(CookieJar()),
        )
        asked = urllib.request.Request(  # noqa: S310 our own server
            found.group() + "/api/session",
            data=json.dumps({"name": "ada", "password": PASSWORD}).encode(),
            headers={"Content-Type": "application/json"},
        )
        with browser.open(asked) as answer:
            assert answer.headers["Set-Cookie"].startswith("__Host-kerfwright=")
            assert answer.headers["Strict-Transport-Security"]
        with browser.open(found.group() + "/api/jobs") as answer:
            assert answer.status == 200
        old = ssl.create_default_context(cafile=str(certificate))
        old.maximum_version = ssl.TLSVersion.TLSv1_2
        old.minimum_version = ssl.TLSVersion.TLSv1_2
        with pytest.raises(urllib.error.HTTPError, match="401"):
            urllib.request.build_opener(urllib.request.HTTPSHandler(context=old)).open(
                found.group() + "/api/jobs"
            )
        with pytest.raises((urllib.error.URLError, ConnectionError, OSError)):
            urllib.request.urlopen(f"http://127.0.0.1:{found[1]}/api/session", timeout=10)
    finally:
        server.terminate()
        server.wait(30)
        if server.stdout is not None:
            server.stdout.close()
