"""How one gauge on the bench is set up: its name, its family, where it is plugged in."""

from dataclasses import dataclass
from typing import Literal

from gauges.errors import SettingError
from gauges.formats import Decoder, Format, LineSettings, decode, format_named


@dataclass(frozen=True)
class Identity:
    """What a USB port is known by, never its tty number: vendor, product, serial number; without a number, the socket it is in."""

    vendor: int
    product: int
    serial_number: str | None
    location: str | None

    def __str__(self) -> str:
        number = f" number {self.serial_number}" if self.serial_number else f" in socket {self.location}"
        return f"{self.vendor:04x}:{self.product:04x}{number}"

    @property
    def is_certain(self) -> bool:
        """Whether it follows the cable; without a serial number it follows the socket, and that must be said."""
        return self.serial_number is not None

    def matches(self, other: "Identity") -> bool:
        """Whether the other is the same device, as far as can be known."""
        if (self.vendor, self.product, self.serial_number) != (other.vendor, other.product, other.serial_number):
            return False
        return self.is_certain or self.location == other.location


@dataclass(frozen=True)
class GaugeSettings:
    """One gauge.

    name: as it is spoken and as its channel is called. key: its family. port: a device's path, or an identity.
    unit: set where its frames carry none. parity, address: see `formats.decode`; None is the family's own.
    line: None is the family's usual. poll_seconds: how often it is asked for a value; None: never, unless told to.
    asks_by_dtr: a one-way cable, asked for a value by taking DTR away for 0.11 s. pedal: the control line that a pedal is wired to.
    deaf_seconds: what comes for so long after opening is thrown away; None is the family's own.
    """

    name: str
    key: str
    port: str | Identity
    unit: str | None = None
    parity: Literal["even7", "none"] | None = None
    address: int | None = None
    line: LineSettings | None = None
    poll_seconds: float | None = None
    asks_by_dtr: bool = False
    pedal: Literal["cts", "dsr"] | None = None
    deaf_seconds: float | None = None

    @property
    def row(self) -> Format:
        """The family's row of the table. Raises SettingError for an unknown key."""
        return format_named(self.key)

    def decoder(self) -> Decoder:
        """A fresh decoder. Raises SettingError when the settings don't fit the family."""
        return decode(self.key, unit=self.unit, parity=self.parity, address=self.address)


def gauge_from(text: str) -> GaugeSettings:
    """The gauge of `NAME=PORT,KEY[,UNIT][,even7|none]`, as on a command line: dial=/dev/ttyUSB0,ascii-signed-cr,mm.

    Raises SettingError that says which part is wrong.
    """
    name, _, rest = text.partition("=")
    port, *options = rest.split(",")
    if not name or not port or not 1 <= len(options) <= 3:
        raise SettingError(f"{text!r}, expected NAME=PORT,KEY[,UNIT][,even7|none] such as dial=/dev/ttyUSB0,ascii-signed-cr,mm")
    key, *rest_options = options
    parity: Literal["even7", "none"] | None = None
    unit: str | None = None
    for option in rest_options:
        if option == "even7":
            parity = "even7"
        elif option == "none":
            parity = "none"
        else:
            unit = option
    settings = GaugeSettings(name, key, port, unit=unit, parity=parity)
    settings.decoder()
    return settings
