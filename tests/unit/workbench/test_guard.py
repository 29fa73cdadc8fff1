"""Only pages of our own, on our own names, are answered."""

from __future__ import annotations

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route, WebSocketRoute
from starlette.testclient import TestClient
from starlette.websockets import WebSocket, WebSocketDisconnect

from kerfwright.workbench.guard import Guard

HERE = "http://127.0.0.1:8733"


async def answer(_request: Request) -> PlainTextResponse:
    return PlainTextResponse("ours")


async def talk(socket: WebSocket) -> None:
    await socket.accept()
    await socket.send_text("ours")
    await socket.close()


@pytest.fixture
def client() -> TestClient:
    routes = [
        Route("/api/jobs", answer, methods=["GET", "POST"]),
        WebSocketRoute("/api/events", talk),
    ]
    return TestClient(Guard(Starlette(routes=routes)), base_url=HERE)


@pytest.mark.parametrize(
    "host", ["127.0.0.1:8733", "localhost:8733", "LOCALHOST", "[::1]:8733", "127.0.0.1"]
)
def test_our_names_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/api/jobs", headers={"Host": host}).text == "ours"


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil:8733", "10.0.0.3:8733", "x"]
)
def test_a_name_that_is_not_ours_is_refused(client: TestClient, host: str) -> None:
    refused = client.get("/api/jobs", headers={"Host": host})
    assert refused.status_code == 403
    assert refused.json()["code"] == "not-from-here"


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_page_from_elsewhere_changes_nothing(client: TestClient, headers: dict[str, str]) -> None:
    assert client.post("/api/jobs", headers=headers).status_code == 403


@pytest.mark.parametrize("headers", [{"Origin": HERE}, {"Sec-Fetch-Site": "same-origin"}, {}])
def test_our_own_page_and_programs_may_change(client: TestClient, headers: dict[str, str]) -> None:
    assert client.post("/api/jobs", headers=headers).text == "ours"


def test_a_socket_from_elsewhere_is_closed_before_it_opens(client: TestClient) -> None:
    with (
        pytest.raises(WebSocketDisconnect),
        client.websocket_connect(
            "ws://127.0.0.1:8733/api/events", headers={"Origin": "http://evil.example"}
        ),
    ):
        pass
    with client.websocket_connect(
        "ws://127.0.0.1:8733/api/events", headers={"Origin": HERE}
    ) as socket:
        assert socket.receive_text() == "ours"


def test_every_answer_tells_the_browser_to_be_strict(client: TestClient) -> None:
    headers = client.get("/api/jobs").headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "*" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] == "no-store"
