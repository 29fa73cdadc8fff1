"""A PDF or picture beside the drawing: kept with the job, told by its bytes, drawn in a worker."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from described_client import DescribedClient
from kerfwright.adapters.pinned import (
    Pinned,
    PinnedKind,
    kind_of,
    laid_ready,
    pin,
    pinned_to,
    take_down,
)
from kerfwright.foundation.errors import InputError
from kerfwright.workbench import pinned as pinned_addresses
from kerfwright.workbench.app import Settings, create_app
from kerfwright.workbench.pdf_pages import png
from page_client import dropped

plt = pytest.importorskip("matplotlib.pyplot")


def picture(kind: str, pages: int = 1) -> bytes:
    """Return a drawing of a circle made by a public plotting library."""
    from matplotlib.backends.backend_pdf import PdfPages

    target = io.BytesIO()
    figure = plt.figure(figsize=(4, 3))
    figure.add_subplot().add_patch(plt.Circle((0.5, 0.5), 0.3))
    if kind == "pdf":
        with PdfPages(target) as book:
            for _ in range(pages):
                book.savefig(figure)
    else:
        figure.savefig(target, format=kind)
    plt.close(figure)
    return target.getvalue()


def locked(pdf: bytes) -> bytes:
    """Return a PDF that says it is encrypted by a handler that nobody has (ISO 32000-2, 7.6)."""
    at = pdf.rindex(b"trailer\n<<") + len(b"trailer\n<<")
    return pdf[:at] + b" /Encrypt << /Filter /Nobody /V 4 >>" + pdf[at:]


@pytest.mark.parametrize(
    ("made", "kind"),
    [("pdf", PinnedKind.PDF), ("png", PinnedKind.PNG), ("jpg", PinnedKind.JPEG)],
)
def test_what_a_file_is_is_told_by_its_bytes(made: str, kind: PinnedKind) -> None:
    assert kind_of(picture(made)) is kind


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"<svg onload='alert(1)'/>", "pinned-kind"),
        (b"MZ\x90\x00", "pinned-kind"),
        (b"", "pinned-kind"),
        (b"\x89PNG\r\n\x1a\n", "pinned-broken"),
        (b"\xff\xd8\xff\xe0\x00\x04", "pinned-broken"),
        (
            b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + struct.pack(">II", 90_000, 90_000),
            "pinned-too-large",
        ),
        (b"%PDF-" + bytes(33 * 2**20), "pinned-too-large"),
    ],
)
def test_what_cannot_be_shown_is_refused(content: bytes, code: str) -> None:
    with pytest.raises(InputError) as refused:
        kind_of(content)
    assert refused.value.code == code


def test_one_file_is_pinned_at_a_time_for_its_owner_only(tmp_path: Path) -> None:
    def pinned(name: str, content: bytes) -> Pinned:
        with laid_ready(tmp_path, name, content) as ready:
            return pin(tmp_path, ready)

    first = pinned("../../etc/wheel?.pdf", picture("pdf"))
    assert first.path.parent == tmp_path
    assert first.path.stat().st_mode & 0o077 == 0
    second = pinned("photo.jpeg", picture("jpg"))
    assert [p.name for p in tmp_path.iterdir()] == ["pinned photo.jpg"]
    assert pinned_to(tmp_path) == second
    take_down(tmp_path)
    assert pinned_to(tmp_path) is None
    take_down(tmp_path)


@pytest.mark.parametrize("channels", [1, 3, 4])
def test_our_png_is_what_a_public_reader_reads(channels: int) -> None:
    image = pytest.importorskip("PIL.Image")
    pixels = np.random.default_rng(7).integers(0, 256, (5, 9, channels), dtype=np.uint8)
    read = np.asarray(image.open(io.BytesIO(png(pixels)))).reshape(5, 9, channels)
    assert np.array_equal(read, pixels)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    app = create_app(Settings(jobs=tmp_path_factory.mktemp("jobs")))
    with DescribedClient(app, base_url="http://127.0.0.1") as found:
        yield found


def test_a_pdf_is_pinned_shown_page_by_page_and_taken_away(client: TestClient) -> None:
    image = pytest.importorskip("PIL.Image")
    job = dropped(client)["job"]["id"]
    at = f"/api/jobs/{job}/pinned"
    assert client.get(at).json() == {"pinned": None}
    assert client.get(f"{at}/pages/1").json()["code"] == "pinned-none"
    answer = client.put(at, files={"file": ("wheel sheet.pdf", picture("pdf", pages=2))})
    assert answer.status_code == 200, answer.text
    found = answer.json()["pinned"]
    assert (found["title"], found["kind"], found["pages"]) == ("wheel sheet.pdf", "pdf", 2)
    page = client.get(f"{at}/pages/2")
    assert page.headers["content-type"] == "image/png"
    assert "default-src 'none'" in page.headers["content-security-policy"]
    drawn = np.asarray(image.open(io.BytesIO(page.content)).convert("RGB"))
    # The paper is 4 by 3; in the middle is the circle, which is not white.
    assert drawn.shape[1] / drawn.shape[0] == pytest.approx(4 / 3, rel=0.01)
    assert drawn[drawn.shape[0] // 2, drawn.shape[1] // 2].tolist() != [255, 255, 255]
    assert client.get(f"{at}/pages/3").status_code == 404
    assert client.delete(at).status_code == 204
    assert client.get(at).json() == {"pinned": None}


@pytest.mark.parametrize(
    ("name", "patience_s", "said"),
    [
        ("broken.pdf", 20.0, "cannot be opened"),
        ("locked.pdf", 20.0, "cannot be opened"),
        ("slow.pdf", 0.0, "is not drawn within"),
    ],
)
def test_a_pdf_that_cannot_be_opened_takes_the_place_of_nothing(
    client: TestClient,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    patience_s: float,
    said: str,
) -> None:
    job = dropped(client)["job"]["id"]
    at, good = f"/api/jobs/{job}/pinned", picture("png")
    assert client.put(at, files={"file": ("sheet.png", good)}).status_code == 200
    before = client.get(at).json()
    assert before["pinned"]["title"] == "sheet.png"
    folder = client.app.state.desk.folder.place_of(job)  # type: ignore[attr-defined]
    lie_there = sorted(path.name for path in folder.iterdir())
    bad = {
        "broken.pdf": b"%PDF-1.7\n" + zlib.compress(b"nothing"),
        "locked.pdf": locked(picture("pdf")),
        "slow.pdf": picture("pdf"),
    }
    monkeypatch.setattr(pinned_addresses, "_PATIENCE_S", patience_s)
    answer = client.put(at, files={"file": (name, bad[name])})
    assert (answer.status_code, answer.json()["code"]) == (422, "pinned-broken")
    assert said in answer.json()["message"]
    assert client.get(at).json() == before
    assert client.get(f"{at}/pages/1").content == good
    assert sorted(path.name for path in folder.iterdir()) == lie_there


def test_a_broken_pdf_is_refused_and_not_kept(client: TestClient) -> None:
    job = dropped(client)["job"]["id"]
    at = f"/api/jobs/{job}/pinned"
    broken = b"%PDF-1.7\n" + zlib.compress(b"nothing")
    answer = client.put(at, files={"file": ("a.pdf", broken)})
    assert answer.status_code == 422
    assert answer.json()["code"] == "pinned-broken"
    assert client.get(at).json() == {"pinned": None}
