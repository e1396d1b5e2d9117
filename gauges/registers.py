"""The register family, asked live through pymodbus; what an answer means is decided where captured answers are read, in `formats`.

pymodbus is imported only when an instrument is opened: it is an option.
"""

import logging
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from gauges.errors import PortError, SettingError
from gauges.feed import Feed, Received, Stale
from gauges.formats.modbus_rtu_int32 import ModbusRtuInt32
from gauges.ports import device_of
from gauges.reading import Event
from gauges.settings import GaugeSettings, Identity
from gauges.worker import RETRY_SECONDS, Clock, Worker

if TYPE_CHECKING:
    from pymodbus.client.base import ModbusBaseSyncClient

POLL_SECONDS = 0.25
ANSWER_SECONDS = 0.5
PATIENCE = 2
_FIRST_REGISTER, _REGISTERS = 0, 3


def open_client(settings: GaugeSettings, device: str) -> "ModbusBaseSyncClient":
    """A connected client for the instrument. Raises PortError when pymodbus is missing or the port can't be opened."""
    try:
        from pymodbus.client import ModbusSerialClient
    except ImportError as error:
        raise PortError("polled instruments need pymodbus: install it beside this program") from error
    # What goes wrong is told through the feed; the library's own log would say it again, on standard error.
    logging.getLogger("pymodbus").addHandler(logging.NullHandler())
    line = settings.line or settings.row.lines[0]
    # Parity stays with the hardware here: nine bits don't fit into a byte, and the checksum decides anyway.
    client = ModbusSerialClient(
        device, baudrate=line.baud, bytesize=line.data_bits, parity=line.parity, stopbits=line.stop_bits, timeout=ANSWER_SECONDS, retries=0
    )
    if not client.connect():
        client.close()  # type: ignore[no-untyped-call]  # pymodbus leaves it untyped
        raise PortError(f"{device} cannot be opened: is it there, and is no other program using it?")
    return client


class RegisterWorker(Worker):
    """Serves one polled instrument. find, opener: how it is looked for and opened; for tests."""

    def __init__(
        self, settings: GaugeSettings, feed: Feed, *, clock: Clock = time.monotonic, retry_seconds: Sequence[float] = RETRY_SECONDS,
        find: Callable[[str | Identity], str] = device_of,
        opener: Callable[[GaugeSettings, str], "ModbusBaseSyncClient"] = open_client,
    ) -> None:  # fmt: skip
        super().__init__(settings.name, feed, clock=clock, retry_seconds=retry_seconds)
        decoder = settings.decoder()
        if not isinstance(decoder, ModbusRtuInt32):
            raise SettingError(f"format {settings.key} is not one of registers, expected modbus-rtu-int32")
        self.settings = settings
        self.decoder = decoder
        self._find = find
        self._opener = opener
        self._unanswered = 0

    def _wake(self) -> None:
        """A question in flight ends by its own time-out of half a second."""

    def _is_certain(self) -> bool:
        return isinstance(self.settings.port, str) or self.settings.port.is_certain

    def _serve(self) -> None:
        client = self._opener(self.settings, self._find(self.settings.port))
        try:
            self._has_opened()
            while not self.stopping.is_set():
                asked_at = self.clock()
                self._release(self.decoder)
                event = self._answer(client)
                if event is not None:
                    self._unanswered = 0
                    self.feed.put(Received(self.name, event, asked_at))
                else:
                    self._unanswered += 1
                    if self._unanswered == PATIENCE:
                        self.feed.put(Stale(self.name, self.clock(), "not answering"))
                self.stopping.wait(self.settings.poll_seconds or POLL_SECONDS)
        finally:
            client.close()  # type: ignore[no-untyped-call]  # pymodbus leaves it untyped

    def _answer(self, client: "ModbusBaseSyncClient") -> Event | None:
        """The event of one question, None when nothing (or nothing whole) came in time. Raises PortError when the port is lost."""
        from pymodbus.exceptions import ConnectionException, ModbusIOException

        try:
            answer = client.read_holding_registers(_FIRST_REGISTER, count=_REGISTERS, device_id=self.settings.address or 1)
        except ModbusIOException:
            return None
        except ConnectionException as error:
            raise PortError(f"{self.settings.port} is gone: {error}") from error
        # pymodbus keeps the checksum for itself: what it checked is put together again without it.
        raw = bytes([answer.dev_id, answer.function_code]) + answer.encode()
        if answer.isError():
            return self.decoder.exception(answer.exception_code, raw)
        first, second, decimals = answer.registers
        return self.decoder.read_registers(first, second, decimals, raw)
