"""A real MQTT broker for tests: Debian's mosquitto, started on a free port of this machine, and a subscriber that outlives its restarts.

Rule: where mosquitto is missing, tests that need it are skipped on a developer's machine and fail where BENCHHAND_CI is set.
"""

import json
import os
import shutil
import socket
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any

import pytest

WAIT_SECONDS = 20.0


def until(holds: Callable[[], bool], again: Callable[[], object] = lambda: None) -> None:
    """Wait until it holds; do `again` while waiting."""
    pause = threading.Event()
    for _ in range(int(WAIT_SECONDS / 0.02)):
        again()
        if holds():
            return
        pause.wait(0.02)
    raise AssertionError(f"did not come to hold within {WAIT_SECONDS:.0f} s")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def mosquitto() -> str:
    """The program. Debian puts it where only the superuser's path looks."""
    found = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    if found is None:
        told = "no mosquitto here: install Debian's package of that name"
        if os.environ.get("BENCHHAND_CI"):
            pytest.fail(told)
        pytest.skip(told)
    return found


class Broker:
    """One broker with its folder; it keeps sessions and queued messages over a restart. Use it in a with block."""

    def __init__(self, folder: Path, *, password_file: Path | None = None) -> None:
        folder.mkdir(exist_ok=True)
        self.port = free_port()
        self._program = mosquitto()
        self._settings = folder / "mosquitto.conf"
        # Unlimited: with the usual 20, mosquitto 2.0.11 leaves a subscriber that comes back after a restart with the first 20 of its messages
        # (its quota is mended in 2.0.13).
        guard = "allow_anonymous true" if password_file is None else f"password_file {password_file}"
        self._settings.write_text(
            f"listener {self.port} 127.0.0.1\n{guard}\npersistence true\npersistence_location {folder}/\n"
            f"max_queued_messages 100000\nmax_inflight_messages 0\nlog_dest file {folder}/broker.log\n"
            + (f"user {os.environ.get('USER', 'root')}\n" if os.geteuid() == 0 else "")
        )
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> "Broker":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.stop()

    def start(self) -> None:
        """Start it, and wait until it answers."""
        self._process = subprocess.Popen([self._program, "-c", str(self._settings)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

        def answers() -> bool:
            with socket.socket() as probe:
                return probe.connect_ex(("127.0.0.1", self.port)) == 0

        until(answers)

    def stop(self) -> None:
        """End it as the system would; it saves what it holds."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(WAIT_SECONDS)
            self._process = None


class Subscriber:
    """Who listens to one topic, with a session that the broker keeps."""

    def __init__(self, broker: Broker, topic: str) -> None:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion

        self.heard: list[dict[str, Any]] = []
        subscribed = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="listener", clean_session=False)
        self._client.on_connect = lambda client, *_: client.subscribe(topic, qos=2)
        self._client.on_subscribe = lambda *_: subscribed.set()
        self._client.on_message = lambda _client, _data, message: self._hear(json.loads(message.payload), message.dup)
        self._client.reconnect_delay_set(1, 1)
        self._client.connect("127.0.0.1", broker.port)
        self._client.loop_start()
        assert subscribed.wait(WAIT_SECONDS)

    def _hear(self, line: dict[str, Any], is_repeated: bool) -> None:
        # A broker that is stopped in mid-handshake with us repeats its last message, marked so; what a sender sends twice has no such mark.
        if not (is_repeated and line in self.heard):
            self.heard.append(line)

    def close(self) -> None:
        """Stop listening."""
        self._client.disconnect()
        self._client.loop_stop()
