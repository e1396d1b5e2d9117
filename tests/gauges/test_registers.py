"""A polled instrument, played by pymodbus's own server at the other end of a real pair of terminals.

Source of the register map: panel meter DPF20 manual, p. 29.
"""

import asyncio
import os
import select
import threading
import tty
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

from gauges.errors import PortError, SettingError
from gauges.feed import Feed, Lost, Received, Stale
from gauges.formats import LineSettings
from gauges.reading import to_json
from gauges.registers import RegisterWorker, open_client
from gauges.settings import GaugeSettings

WAIT_SECONDS = 5.0


@contextmanager
def cable() -> Iterator[tuple[str, str]]:
    """Two terminals joined by a null-modem cable: their devices."""
    (one, one_end), (other, other_end) = os.openpty(), os.openpty()
    for descriptor in (one, one_end, other, other_end):
        tty.setraw(descriptor)
    wake, stop = os.pipe()

    def carry() -> None:
        partner = {one: other, other: one}
        while True:
            for ready in select.select([one, other, wake], [], [])[0]:
                if ready == wake:
                    return
                os.write(partner[ready], os.read(ready, 4096))

    carrier = threading.Thread(target=carry, daemon=True)
    carrier.start()
    try:
        yield os.ttyname(one_end), os.ttyname(other_end)
    finally:
        os.write(stop, b"x")
        carrier.join(WAIT_SECONDS)
        for descriptor in (one, one_end, other, other_end, wake, stop):
            os.close(descriptor)


@contextmanager
def instrument(device: str, registers: list[int]) -> Iterator[None]:
    """pymodbus's server with these holding registers, on this terminal."""
    loop = asyncio.new_event_loop()
    is_up = threading.Event()
    server: list[ModbusSerialServer] = []

    async def serve() -> None:
        simulated = SimDevice(1, simdata=[SimData(0, values=registers, datatype=DataType.REGISTERS)])
        server.append(ModbusSerialServer(simulated, port=device, baudrate=9600))
        await server[0].serve_forever(background=True)
        is_up.set()

    def run() -> None:
        asyncio.set_event_loop(loop)
        loop.run_until_complete(serve())
        loop.run_forever()

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    assert is_up.wait(WAIT_SECONDS)
    try:
        yield
    finally:
        asyncio.run_coroutine_threadsafe(server[0].shutdown(), loop).result(WAIT_SECONDS)
        loop.call_soon_threadsafe(loop.stop)
        thread.join(WAIT_SECONDS)
        loop.close()


def settings(device: str) -> GaugeSettings:
    """The instrument on this terminal, without parity, which a pseudo-terminal refuses to set."""
    return GaugeSettings("meter", "modbus-rtu-int32", device, unit="mm", poll_seconds=0.02, line=LineSettings(9600, 8, "N", 1))


def first(feed: Feed) -> object:
    """The first notice."""
    return feed.get(WAIT_SECONDS)


def test_the_manuals_registers_are_read_through_pymodbuss_own_server() -> None:
    feed = Feed()
    with cable() as (ours, theirs), instrument(theirs, [0xFBF1, 0x0009, 2]):
        worker = RegisterWorker(settings(ours), feed)
        worker.start()
        notice = first(feed)
        worker.stop()
        assert isinstance(notice, Received)
        assert to_json(notice.event) == {"value": "6543.21", "unit": "mm"}
        assert notice.event.raw == bytes.fromhex("01 03 06 FB F1 00 09 00 02")


def test_a_negative_value_and_one_beyond_the_range_are_told_apart() -> None:
    for registers, line in (([0xFB2E, 0xFFFF, 3], {"value": "-1.234", "unit": "mm"}), ([0x4240, 0x000F, 0], {"fault": "over-range"})):
        feed = Feed()
        with cable() as (ours, theirs), instrument(theirs, registers):
            worker = RegisterWorker(settings(ours), feed)
            worker.start()
            notice = first(feed)
            worker.stop()
        assert isinstance(notice, Received)
        assert to_json(notice.event) == line


def test_an_instrument_without_these_registers_answers_with_an_exception() -> None:
    feed = Feed()
    with cable() as (ours, theirs), instrument(theirs, [1]):
        worker = RegisterWorker(settings(ours), feed)
        worker.start()
        notice = first(feed)
        worker.stop()
    assert isinstance(notice, Received)
    assert to_json(notice.event) == {"fault": "modbus-exception"}


def test_a_line_where_nobody_is_does_not_answer() -> None:
    feed = Feed()
    with cable() as (ours, _):
        worker = RegisterWorker(settings(ours), feed)
        worker.start()
        notice = first(feed)
        worker.stop()
    assert isinstance(notice, Stale)
    assert notice.reason == "not answering"


def test_a_terminal_that_is_not_there_is_a_lost_instrument() -> None:
    feed = Feed()
    worker = RegisterWorker(settings("/dev/there-is-no-such-port"), feed, retry_seconds=(0.01,))
    worker.start()
    notice = first(feed)
    worker.stop()
    assert isinstance(notice, Lost)
    with pytest.raises(PortError, match="cannot be opened"):
        open_client(settings("/dev/there-is-no-such-port"), "/dev/there-is-no-such-port")


def test_only_the_register_family_is_polled_this_way() -> None:
    with pytest.raises(SettingError, match="expected modbus-rtu-int32"):
        RegisterWorker(GaugeSettings("dial", "ascii-fixed-unit", ""), Feed())
