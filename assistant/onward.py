"""Readings kept, and sent on: a spool on disk, and behind it a CSV file, a file of JSON lines, or an MQTT broker.

Rules:
- The spool is what counts: a reading is in it, synced, before it is acknowledged. Where it goes from there may be full or away for days.
- Each record goes on once, in order, with the capture's name and its number. How far that has come is read from the target file itself, or
  noted beside the spool after the broker has confirmed the record (QoS 2). A program killed between the broker's last word and our note of it
  sends that one record again, under the same name and number.
"""

import contextlib
import csv
import io
import json
import os
import queue
import secrets
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Protocol

from assistant.core.errors import BadInputError, JournalError
from assistant.core.inspection import Record, record_from
from assistant.mqtt import Address

COLUMNS = (
    "capture", "number", "kind", "at", "part", "characteristic", "value", "unit", "verdict", "quality", "gauge", "raw", "undoes",
)  # fmt: skip


# ---- the spool


@dataclass(frozen=True)
class Heading:
    """What a spool begins with. capture: its name, unique; plan: the plan file's name, empty for none; target: where it goes on to."""

    capture: str
    at: str
    plan: str = ""
    target: str = ""


class Spool:
    """The file of one capture: its heading, then a line for each record, synced. One process holds it."""

    def __init__(self, path: Path, heading: Heading | None = None) -> None:
        """Open it; with a heading, make it. What a crash left torn at its end was never acknowledged, and is cut off.

        Raises JournalError: it exists already, is missing, is damaged, or another process holds it.
        """
        self.path = path
        try:
            if heading is not None:
                path.parent.mkdir(parents=True, exist_ok=True)
            self._file: IO[bytes] = path.open("rb+" if heading is None else "xb+", buffering=0)
        except OSError as error:
            raise JournalError(f"capture {path.name} cannot be opened: {error.strerror or error}") from error
        try:
            _lock(self._file)
        except OSError as error:
            self._file.close()
            raise JournalError(f"capture {path.stem} is open in another process: close that one first") from error
        self.records: list[Record] = []
        self._end = 0
        try:
            if heading is not None:
                self._write(json.dumps(vars(heading), ensure_ascii=False) + "\n")
                self.heading = heading
            else:
                self.heading = self._load()
        except OSError as error:
            self._file.close()
            raise error if isinstance(error, JournalError) else JournalError(f"capture {path.name}: {error.strerror or error}") from error

    def append(self, records: Sequence[Record]) -> None:
        """Keep these; on return they are on disk. Raises JournalError, and then none of them is kept."""
        text = "".join(json.dumps(record.json(), ensure_ascii=False) + "\n" for record in records)
        try:
            self._write(text)
        except OSError as error:
            raise JournalError(f"the reading cannot be kept: {error.strerror or error}. Make room, then take it again") from error
        self.records += records

    def close(self) -> None:
        """Let go of it."""
        self._file.close()

    @property
    def sent(self) -> int:
        """How many records a broker has confirmed."""
        return _sent(self.path)

    def mark_sent(self, count: int) -> None:
        """Note that so many have been confirmed. Raises OSError: then the note stands as it was."""
        note = self.path.with_suffix(".sent")
        beside = note.with_suffix(".new")
        with beside.open("w", encoding="ascii") as file:
            file.write(str(count))
            file.flush()
            os.fsync(file.fileno())
        beside.replace(note)

    def _write(self, text: str) -> None:
        data = text.encode()
        try:
            self._file.seek(self._end)
            _write_all(self._file, data)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(self._file.fileno(), self._end)
            raise
        self._end += len(data)

    def _load(self) -> Heading:
        lines = self._file.read().splitlines(keepends=True)
        heading: Heading | None = None
        for index, line in enumerate(lines):
            try:
                data = json.loads(line)
                if not line.endswith(b"\n"):
                    raise ValueError("torn")
                if heading is None:
                    heading = Heading(**data)
                else:
                    self.records.append(record_from(data))
            except (ValueError, KeyError, TypeError) as error:
                if index < len(lines) - 1 or heading is None:
                    raise JournalError(f"capture {self.path.name} is damaged in line {index + 1}: {error}") from error
                os.ftruncate(self._file.fileno(), self._end)
                break
            self._end += len(line)
        if heading is None:
            raise JournalError(f"capture {self.path.name} is empty")
        return heading


def _write_all(file: IO[bytes], data: bytes) -> None:
    """All of it, synced, to an unbuffered file. Raises OSError; some of it may be there then."""
    written = 0
    while written < len(data):
        written += file.write(data[written:])
    os.fsync(file.fileno())


def _lock(file: IO[bytes]) -> None:
    if os.name == "nt":  # pragma: no cover - the other branch is the one under test
        import msvcrt

        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    else:
        import fcntl

        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)


def unsent_in(folder: Path) -> list[Path]:
    """The captures of a folder that may have something to send on."""
    return [path for path in spools_in(folder) if path.read_bytes().count(b"\n") - 1 > _sent(path)]


def _sent(path: Path) -> int:
    try:
        return int(path.with_suffix(".sent").read_text(encoding="ascii"))
    except (OSError, ValueError):
        return 0


def spools_in(folder: Path) -> list[Path]:
    """The captures kept in a folder, the one written last first."""
    return sorted(folder.glob("*.jsonl"), key=lambda path: path.stat().st_mtime_ns, reverse=True)


# ---- targets


class Target(Protocol):
    """Where records go on to. No call waits for long or raises for a target that is full or away: `trouble` says so."""

    @property
    def trouble(self) -> str:
        """Why nothing goes on at present, in one line; empty when all is well."""
        ...

    @property
    def waiting(self) -> int:
        """How many records of the spool have not gone on for certain."""
        ...

    def go_on(self) -> None:
        """Send what can be sent; call it after every record and every second or so."""
        ...

    def close(self, seconds: float) -> None:
        """Send what can still be sent within this time, and let go."""
        ...


def target_for(text: str, spool: Spool) -> Target:
    """The target that `--to` names. Raises BadInputError for what is none, or a CSV file of another kind."""
    if text.startswith(("mqtt://", "mqtts://")):
        return MqttTarget(text, spool)
    path = Path(text).expanduser()
    if path.suffix == ".csv":
        return FileTarget(path, spool, CsvRows())
    if path.suffix == ".jsonl":
        return FileTarget(path, spool, JsonRows())
    raise BadInputError(f"--to {text!r}, expected FILE.csv, FILE.jsonl or mqtt://HOST[:PORT]/TOPIC")


class Rows(Protocol):
    """How a record is written as a line of a file."""

    heading: str

    def row(self, capture: str, record: Record) -> str: ...
    def capture_of(self, line: str) -> str | None: ...


class JsonRows:
    """One JSON object a line."""

    heading = ""

    def row(self, capture: str, record: Record) -> str:
        """The line, with its end."""
        return json.dumps({"capture": capture, **record.json()}, ensure_ascii=False) + "\n"

    def capture_of(self, line: str) -> str | None:
        """The capture that a line belongs to; None for a line that is not ours."""
        try:
            data = json.loads(line)
        except ValueError:
            return None
        return data.get("capture") if isinstance(data, dict) else None


class CsvRows:
    """Comma-separated, one heading, a line for each record (RFC 4180, with a bare line feed)."""

    heading = ",".join(COLUMNS) + "\n"

    def row(self, capture: str, record: Record) -> str:
        """The line, with its end."""
        line: dict[str, Any] = {"capture": capture, **record.json()}
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerow([line.get(column, "") for column in COLUMNS])
        return out.getvalue()

    def capture_of(self, line: str) -> str | None:
        """The capture that a line belongs to: its first cell."""
        return next(iter(next(csv.reader([line]), [])), None)


class FileTarget:
    """A file that grows by a line for each record. What is in it already tells how far it has come."""

    def __init__(self, path: Path, spool: Spool, rows: Rows) -> None:
        """Raises BadInputError for a file with another heading."""
        self._path, self._spool, self._rows = path, spool, rows
        self.trouble = ""
        self._written, self._size = 0, -1
        try:
            lines = self._lines()
        except (OSError, UnicodeDecodeError) as error:
            raise BadInputError(f"{path} cannot be read as text: {error}; name another file") from error
        if rows.heading and lines and lines[0].rstrip("\r\n") != rows.heading.rstrip("\n"):
            raise BadInputError(
                f"{path} begins with {lines[0][:40]!r}, expected the heading {rows.heading[:40].strip()}…; name another file"
            )

    @property
    def waiting(self) -> int:
        """As `Target`."""
        return len(self._spool.records) - self._written

    def go_on(self) -> None:
        """As `Target`."""
        if not self.waiting:
            return
        try:
            self._append()
        except (OSError, UnicodeDecodeError) as error:
            self._size = -1
            why = error.strerror if isinstance(error, OSError) else error
            self.trouble = f"{self._path.name} cannot be written ({why}): the readings are kept and written later"
        else:
            self.trouble = ""

    def close(self, seconds: float) -> None:  # noqa: ARG002 - a file does not wait
        """As `Target`."""
        self.go_on()
        if not self.waiting:
            # Only so that the next start need not look: without the note the file itself tells.
            with contextlib.suppress(OSError):
                self._spool.mark_sent(len(self._spool.records))

    def _lines(self) -> list[str]:
        """The lines that are there. Raises OSError, and UnicodeDecodeError for what is no text."""
        try:
            return self._path.read_text(encoding="utf-8").splitlines(keepends=True)
        except FileNotFoundError:
            return []

    def _append(self) -> None:
        name = self._spool.heading.capture
        with self._path.open("ab", buffering=0) as file:
            # Two captures may go on to one file.
            _lock(file)
            size, tail = file.seek(0, os.SEEK_END), ""
            is_new = size == 0
            if size != self._size:
                # Somebody else wrote in it, or we have just begun: what is there tells what is still to come.
                lines = self._lines()
                self._written = sum(line.endswith("\n") and self._rows.capture_of(line) == name for line in lines)
                tail = lines[-1] if lines and not lines[-1].endswith("\n") else ""
            rows = [self._rows.row(name, record) for record in self._spool.records[self._written :]]
            if tail and rows and rows[0].startswith(tail):
                # A line of ours that a crash tore.
                size -= len(tail.encode())
                file.truncate(size)
                tail = ""
            text = ("\n" if tail else "") + (self._rows.heading if is_new else "") + "".join(rows)
            data = text.encode()
            try:
                _write_all(file, data)
            except OSError:
                with contextlib.suppress(OSError):
                    file.truncate(size)
                raise
            self._size = size + len(data)
        self._written = len(self._spool.records)


_LONGEST_WAIT_SECONDS = 30


class MqttTarget:
    """A topic of a broker. Records are JSON objects, at QoS 2; while the broker is away they wait, and go when it is back."""

    def __init__(self, url: str, spool: Spool) -> None:
        """Begins to connect, in paho's own thread. Raises BadInputError for a URL that names no broker or no plain topic."""
        self._address = Address.parse(url, "--to", "benchhand/capture")
        self._spool = spool
        self.trouble = ""
        self._published = self._confirmed = spool.sent
        self._in_flight: deque[int] = deque()
        self._acknowledged: queue.SimpleQueue[int] = queue.SimpleQueue()
        self._done: set[int] = set()
        # A session that the broker keeps, so that a break in mid-handshake repeats nothing; its name is new, so that it meets no old state.
        self._name = f"benchhand-{spool.heading.capture}-{secrets.token_hex(4)}"
        self._client = self._address.client(self._name, is_kept=True)
        self._client.on_connect = self._connected
        self._client.on_connect_fail = self._away
        self._client.on_disconnect = self._away
        # The callback may only note: paho holds its own locks while it calls.
        self._client.on_publish = lambda _client, _data, mid, _code, _properties: self._acknowledged.put(mid)
        self._client.reconnect_delay_set(1, _LONGEST_WAIT_SECONDS)
        self._client.connect_async(self._address.host, self._address.port, keepalive=30)
        self.trouble = f"no broker at {self._address.where} yet: the readings are kept and sent later"
        self._client.loop_start()

    @property
    def waiting(self) -> int:
        """As `Target`."""
        return len(self._spool.records) - self._confirmed

    def go_on(self) -> None:
        """As `Target`."""
        name = self._spool.heading.capture
        for record in self._spool.records[self._published :]:
            payload = json.dumps({"capture": name, **record.json()}, ensure_ascii=False)
            self._in_flight.append(self._client.publish(self._address.topic, payload, qos=2).mid)
            self._published += 1
        self._note()

    def close(self, seconds: float) -> None:
        """As `Target`."""
        import threading
        import time

        until, pause = time.monotonic() + seconds, threading.Event()
        while True:
            self.go_on()
            if not self.waiting or time.monotonic() >= until:
                break
            pause.wait(0.02)
        self._client.disconnect()
        self._client.loop_stop()
        if not self.waiting and self._published:
            self._forget_session()

    def _note(self) -> None:
        """Note what the broker has confirmed, in order."""
        while True:
            try:
                self._done.add(self._acknowledged.get_nowait())
            except queue.Empty:
                break
        confirmed = self._confirmed
        while self._in_flight and self._in_flight[0] in self._done:
            self._done.discard(self._in_flight.popleft())
            confirmed += 1
        if confirmed > self._confirmed:
            # Should the disk refuse the note, it is made with the next one.
            with contextlib.suppress(OSError):
                self._spool.mark_sent(confirmed)
            self._confirmed = confirmed

    def _forget_session(self) -> None:
        """All is confirmed: the broker need not keep our session."""
        client = self._address.client(self._name, is_kept=False)
        with contextlib.suppress(OSError):
            client.connect(self._address.host, self._address.port)
            client.loop(timeout=1.0)
            client.disconnect()

    def _connected(self, _client: object, _data: object, _flags: object, code: Any, _properties: object) -> None:
        refused = code.is_failure
        self.trouble = f"the broker at {self._address.where} refused us ({code}): the readings are kept and sent later" if refused else ""

    def _away(self, *_told: object) -> None:
        if not self.trouble:
            self.trouble = f"the broker at {self._address.where} is away: the readings are kept and sent later"
