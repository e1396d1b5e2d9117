"""Where the screen is served, and who may look or act there."""

import os
import socket
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.errors import BadInputError
from assistant.screen.address import Address, Keys, Place


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("127.0.0.1:8347", "127.0.0.1", 8347),
        ("0.0.0.0:0", "0.0.0.0", 0),
        ("[::1]:80", "::1", 80),
        ("bench-two.shop:9000", "bench-two.shop", 9000),
    ],
)
def test_an_address_is_a_host_and_a_port(text: str, host: str, port: int) -> None:
    assert Address.parse(text) == Address(host, port)


@pytest.mark.parametrize("text", ["8347", ":8347", "127.0.0.1", "127.0.0.1:", "127.0.0.1:99999", "a b:1", "http://x:1", "::1:80", "x:1/"])
def test_what_is_no_address_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(BadInputError, match=r"expected HOST:PORT such as 127\.0\.0\.1:8347") as caught:
        Address.parse(text)
    assert text in str(caught.value)
    assert "\n" not in str(caught.value)


# Loopback is 127.0.0.0/8 (RFC 1122, 3.2.1.3) and ::1 (RFC 4291, 2.5.3).
@pytest.mark.parametrize(
    ("host", "own"),
    [
        ("127.0.0.1", True), ("127.8.9.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("192.168.1.5", False),
        ("bench", False),
    ],
)  # fmt: skip
def test_only_the_computers_own_address_needs_no_key(host: str, own: bool) -> None:
    assert Address(host, 1).is_own is own


def test_on_its_own_address_there_are_no_keys_and_only_its_names(tmp_path: Path) -> None:
    place = Place.open("127.0.0.1:0", tmp_path / "secret")
    try:
        assert place.keys is None
        assert place.own_hosts == {f"{name}:{place.port}" for name in ("127.0.0.1", "localhost", "[::1]")}
        assert place.url == f"http://127.0.0.1:{place.port}/"
        assert not (tmp_path / "secret").exists()
    finally:
        place.close()


def test_anywhere_else_there_are_keys_and_an_address_that_others_can_use(tmp_path: Path) -> None:
    place = Place.open("0.0.0.0:0", tmp_path / "secret")
    try:
        assert place.keys is not None
        assert place.own_hosts is None
        assert "0.0.0.0" not in place.url
    finally:
        place.close()


def test_an_address_that_is_taken_is_refused_in_one_line(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(BadInputError, match="another bench may use it") as caught:
            Place.open(f"127.0.0.1:{port}", tmp_path / "secret")
    assert str(port) in str(caught.value)


# ---- keys


def test_the_keys_of_a_bench_stay_the_same(tmp_path: Path) -> None:
    first, again = Keys.kept_in(tmp_path / "jobs" / "secret"), Keys.kept_in(tmp_path / "jobs" / "secret")
    assert first == again
    assert first.bench != first.viewer
    assert Keys.kept_in(tmp_path / "another") != first


def test_the_secret_is_for_this_user_alone(tmp_path: Path) -> None:
    path = tmp_path / "secret"
    Keys.kept_in(path)
    assert os.name == "nt" or path.stat().st_mode & 0o077 == 0  # Windows keeps no modes
    assert list(tmp_path.iterdir()) == [path]


def test_each_key_has_its_role_however_it_was_copied() -> None:
    keys = Keys.from_secret(b"x" * 32)
    assert keys.role(keys.bench) == "bench"
    assert keys.role(keys.viewer) == "viewer"
    assert keys.role(keys.bench.upper().replace("-", " ")) == "bench"
    assert keys.role(keys.bench.replace("-", "")) == "bench"
    assert keys.role(keys.bench[:-1]) is None
    assert keys.role("") is None


@given(st.text(max_size=40))
def test_no_other_text_is_a_key(text: str) -> None:
    keys = Keys.from_secret(b"y" * 32)
    plain = text.lower().replace(" ", "").replace("-", "")
    known = {keys.bench.replace("-", ""): "bench", keys.viewer.replace("-", ""): "viewer"}
    assert keys.role(text) == known.get(plain)


def test_a_key_can_be_copied_by_eye() -> None:
    keys = Keys.from_secret(b"z" * 32)
    letters = set(keys.bench + keys.viewer) - {"-"}
    assert letters.isdisjoint("0o1il")
    assert [len(group) for group in keys.bench.split("-")] == [4, 4, 4]


@pytest.mark.parametrize("content", ["", "short", "é" * 40])
def test_a_damaged_secret_is_refused_in_one_line(tmp_path: Path, content: str) -> None:
    path = tmp_path / "secret"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(BadInputError, match="secret"):
        Keys.kept_in(path)
