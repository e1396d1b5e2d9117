"""The doors of the screen: who may look, who may act, and that nothing late or foreign gets in."""

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from assistant.core.inputs import Input, Pedal, Said, Taken
from assistant.core.quantities import Quantity
from assistant.screen import server
from assistant.screen.address import Keys
from assistant.screen.hub import Hub
from assistant.screen.words import words_for
from tests.table import Table

WORDS = words_for("en")
HOST = "127.0.0.1:8347"
HERE = f"http://{HOST}"


class Job:
    """Stands for the job's queue: takes what still holds at once, or refuses, or leaves it lying."""

    def __init__(self) -> None:
        self.taken: list[Input] = []
        self.refusal = ""
        self.answers = True
        self.left: list[tuple[Callable[[], bool], Callable[[str], None]]] = []

    def put(self, given: Input, still_holds: Callable[[], bool], answered: Callable[[str], None]) -> None:
        if not self.answers:
            self.left.append((still_holds, answered))
        elif still_holds():
            self.taken.append(given)
            answered(self.refusal)


@pytest.fixture
def job_queue() -> Job:
    """A job that takes everything."""
    return Job()


@pytest.fixture
def hub(table: Table) -> Hub:
    """A hub that shows the job's first state."""
    found = Hub(WORDS)
    found.watch(table.state, [])
    return found


@pytest.fixture
def client(hub: Hub, job_queue: Job) -> Iterator[TestClient]:
    """A browser on this computer's own address."""
    application = server.build(hub, job_queue.put, None, WORDS, frozenset({HOST}))
    with TestClient(application, base_url=HERE) as found:
        yield found


KEYS = Keys.from_secret(b"the secret of a bench in the tests")


@pytest.fixture
def outside(hub: Hub, job_queue: Job) -> Iterator[TestClient]:
    """A browser elsewhere in the shop."""
    with TestClient(server.build(hub, job_queue.put, KEYS, WORDS, None), base_url="http://bench.shop:8347") as found:
        yield found


def messages(text: str) -> list[tuple[str, Any]]:
    """The events of a stream: name and data (HTML Living Standard, 9.2.6: an empty line ends each)."""
    found = []
    for block in text.strip().split("\n\n"):
        fields = dict(line.split(": ", 1) for line in block.splitlines())
        found.append((fields["event"], json.loads(fields["data"])))
    return found


# ---- looking


def test_the_page_is_served_whole_and_is_never_kept(client: TestClient) -> None:
    answer = client.get("/")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert answer.headers["cache-control"] == "no-store"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "invented light axle" not in answer.text, "the page itself holds nothing of the job"


def test_the_stream_tells_the_role_then_the_newest_view_then_the_end(client: TestClient, hub: Hub) -> None:
    hub.finish()
    answer = client.get("/events")
    assert answer.headers["content-type"].startswith("text/event-stream")
    found = messages(answer.text)
    assert [name for name, _ in found] == ["hello", "view", "over"]
    assert found[0][1] == {"role": "bench", "beat_seconds": server.BEAT_SECONDS}
    assert found[1][1]["at"] == hub.at
    assert found[1][1]["view"]["job"]["title"] == "invented light axle"


def test_a_door_that_is_not_there_is_not_found(client: TestClient) -> None:
    assert client.get("/journal").status_code == 404
    assert client.get("/say").status_code == 405


# ---- acting


def test_words_from_the_page_are_like_typed_ones(client: TestClient, hub: Hub, job_queue: Job) -> None:
    answer = client.post("/say", json={"words": "0.0065 in", "at": hub.at})
    assert (answer.status_code, answer.json()) == (200, {"taken": True})
    assert job_queue.taken == [Said("0.0065 in", source="typed")]


def test_the_pedal_and_a_gauge_have_doors_too(client: TestClient, hub: Hub, job_queue: Job) -> None:
    assert client.post("/pedal", json={"at": hub.at}).status_code == 200
    reading = {"channel": "dial", "value": "0.0065", "unit": "in", "at": hub.at}
    assert client.post("/gauge", json=reading).status_code == 200
    assert job_queue.taken == [Pedal(), Taken("dial", Quantity.of("0.0065", "in"))]


def test_what_was_said_to_an_older_state_is_refused(client: TestClient, hub: Hub, job_queue: Job, table: Table) -> None:
    at = hub.at
    hub.watch(table.state, [])
    answer = client.post("/say", json={"words": "done", "at": at})
    assert answer.status_code == 409
    assert "gone on" in answer.json()["text"]
    assert job_queue.taken == []


def test_what_names_no_state_is_refused(client: TestClient, job_queue: Job) -> None:
    assert client.post("/say", json={"words": "done"}).status_code == 409
    assert job_queue.taken == []


def test_two_screens_that_answer_the_same_question_count_once(hub: Hub, job_queue: Job, table: Table) -> None:
    at, take = hub.at, job_queue.put

    def put(given: Input, still_holds: Callable[[], bool], answered: Callable[[str], None]) -> None:
        take(given, still_holds, answered)
        hub.watch(table.state, [])  # the job has gone on because of it

    with TestClient(server.build(hub, put, None, WORDS, frozenset({HOST})), base_url=HERE) as two_screens:
        statuses = [two_screens.post("/say", json={"words": "done", "at": at}).status_code for _ in range(2)]
    assert statuses == [200, 409]
    assert job_queue.taken == [Said("done")]


def test_a_disk_that_refuses_is_told_to_the_page(client: TestClient, hub: Hub, job_queue: Job) -> None:
    job_queue.refusal = "no room on the disk"
    answer = client.post("/say", json={"words": "yes", "at": hub.at})
    assert (answer.status_code, answer.json()["text"]) == (507, "no room on the disk")


def test_a_job_that_does_not_answer_takes_it_neither_now_nor_later(
    client: TestClient, hub: Hub, job_queue: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(server, "ANSWER_SECONDS", 0.01)
    job_queue.answers = False
    answer = client.post("/say", json={"words": "done", "at": hub.at})
    assert answer.status_code == 503
    ((still_holds, answered),) = job_queue.left
    assert not still_holds()
    answered("")  # and an answer that comes too late harms nobody


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"words": "", "at": "x"}, 400),
        ({"words": 5, "at": "x"}, 400),
        ({"words": "a" * 301, "at": "x"}, 400),
        ({"at": "x"}, 400),
        ([], 400),
        ("done", 400),
        ({"words": "done", "at": "x", "more": "y" * 5000}, 413),
    ],
)
def test_what_are_no_words_is_refused_with_a_reason(client: TestClient, job_queue: Job, body: object, status: int) -> None:
    answer = client.post("/say", json=body)
    assert answer.status_code == status
    assert answer.json()["text"]
    assert job_queue.taken == []


@pytest.mark.parametrize("raw", [b"", b"{", b"\xff\xfe", b"[" * 3000, b'{"words": "done"'])
def test_what_is_no_json_is_refused(client: TestClient, job_queue: Job, raw: bytes) -> None:
    assert client.post("/say", content=raw, headers={"content-type": "application/json"}).status_code == 400
    assert job_queue.taken == []


def test_a_gauge_reading_without_its_unit_is_refused_with_what_was_expected(client: TestClient, hub: Hub, job_queue: Job) -> None:
    answer = client.post("/gauge", json={"channel": "dial", "value": "0.0065", "at": hub.at})
    assert answer.status_code == 400
    assert "expected" in answer.json()["text"]
    assert job_queue.taken == []


# ---- others


@pytest.mark.parametrize("door", ["/say", "/pedal", "/gauge", "/enter"])
def test_a_form_of_another_page_cannot_act(client: TestClient, hub: Hub, job_queue: Job, door: str) -> None:
    """What a page may send elsewhere without asking first: plain text or a form (Fetch Standard, CORS-safelisted content types)."""
    body = json.dumps({"words": "done", "at": hub.at})
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""):
        assert client.post(door, content=body, headers={"content-type": kind}).status_code == 415
    for headers in ({"origin": "http://elsewhere.example"}, {"origin": "null"}, {"sec-fetch-site": "cross-site"}):
        assert client.post(door, json={"words": "done", "at": hub.at}, headers=headers).status_code == 403
    assert job_queue.taken == []


def test_our_own_page_can_act(client: TestClient, hub: Hub, job_queue: Job) -> None:
    headers = {"origin": HERE, "sec-fetch-site": "same-origin"}
    assert client.post("/say", json={"words": "done", "at": hub.at}, headers=headers).status_code == 200
    assert job_queue.taken == [Said("done")]


@pytest.mark.parametrize(("method", "door"), [("GET", "/"), ("GET", "/events"), ("GET", "/role"), ("POST", "/say"), ("POST", "/enter")])
def test_another_name_for_this_computer_opens_nothing(client: TestClient, job_queue: Job, method: str, door: str) -> None:
    """A name of somebody else's that points at 127.0.0.1 would make their page ours (DNS rebinding)."""
    answer = client.request(method, door, headers={"host": "elsewhere.example:8347"}, json={"words": "done"})
    assert answer.status_code == 421
    assert job_queue.taken == []


def test_another_page_cannot_read_the_stream(client: TestClient, hub: Hub) -> None:
    hub.finish()
    answer = client.get("/events", headers={"origin": "http://elsewhere.example"})
    assert answer.status_code == 403
    assert "access-control-allow-origin" not in answer.headers


# ---- with a key


def test_without_a_key_only_the_empty_page_is_seen(outside: TestClient, hub: Hub, job_queue: Job) -> None:
    assert outside.get("/").status_code == 200
    assert outside.get("/events").status_code == 401
    assert outside.get("/role").status_code == 401
    for door in ("/say", "/pedal", "/gauge"):
        assert outside.post(door, json={"words": "done", "at": hub.at}).status_code == 401
    assert job_queue.taken == []


def test_the_key_of_the_bench_lets_act(outside: TestClient, hub: Hub, job_queue: Job) -> None:
    answer = outside.post("/enter", json={"key": KEYS.bench})
    assert (answer.status_code, answer.json()) == (200, {"role": "bench"})
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert outside.get("/role").json() == {"role": "bench"}
    assert outside.post("/say", json={"words": "done", "at": hub.at}).status_code == 200
    assert job_queue.taken == [Said("done")]


def test_the_key_of_a_viewer_lets_look_and_not_act(outside: TestClient, hub: Hub, job_queue: Job) -> None:
    assert outside.post("/enter", json={"key": KEYS.viewer}).json() == {"role": "viewer"}
    hub.finish()
    found = messages(outside.get("/events").text)
    assert found[0][1]["role"] == "viewer"
    assert found[1][1]["view"]["job"]["title"] == "invented light axle"
    for door in ("/say", "/pedal", "/gauge"):
        answer = outside.post(door, json={"words": "done", "at": hub.at})
        assert (answer.status_code, answer.json()["text"]) == (403, "This key only looks.")
    assert job_queue.taken == []


@pytest.mark.parametrize("key", ["", "aaaa-bbbb-cccc", 5, None, ["x"]])
def test_what_is_no_key_opens_nothing(outside: TestClient, key: object) -> None:
    answer = outside.post("/enter", json={"key": key})
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers


def test_two_benches_of_one_computer_do_not_share_their_cookies(hub: Hub, job_queue: Job) -> None:
    """Cookies know no ports (RFC 6265, 8.5)."""
    names = set()
    for port in (8347, 8348):
        with TestClient(server.build(hub, job_queue.put, KEYS, WORDS, None), base_url=f"http://bench.shop:{port}") as browser:
            browser.post("/enter", json={"key": KEYS.bench})
            names |= set(browser.cookies)
    assert len(names) == 2
