"""How one gauge, or a pedal, on the bench is set up: its name, its family, where it is plugged in."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
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
    step: its resolution where that is coarser than one count. range_end: the size at which it is beyond its range. silent_seconds: a
    longer silence makes it stale; None is the family's own. channel: the only one that counts, where it sends several. is_zeroed: whoever
    measures a swing sets it to zero at the first end.
    uses: what it is for, in the words of whoever uses it; nothing here looks at them.
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
    step: Decimal | None = None
    range_end: Decimal | None = None
    silent_seconds: float | None = None
    channel: str | None = None
    is_zeroed: bool = False
    uses: tuple[str, ...] = ()

    @property
    def row(self) -> Format:
        """The family's row of the table. Raises SettingError for an unknown key."""
        return format_named(self.key)

    @property
    def is_streaming(self) -> bool:
        """Whether values come by themselves or are polled, so that a steady one can be told; else each is sent by a button."""
        return self.row.period_seconds is not None or self.poll_seconds is not None or self.row.takes_address

    def decoder(self) -> Decoder:
        """A fresh decoder. Raises SettingError when the settings don't fit the family."""
        return decode(self.key, unit=self.unit, parity=self.parity, address=self.address)


@dataclass(frozen=True)
class PedalSettings:
    """A pedal or hand switch on a control line of a port of its own."""

    name: str
    port: str | Identity
    line: Literal["cts", "dsr"]


Known = Mapping[str, GaugeSettings]
_EXPECTED = (
    "NAME=PORT,KEY[,UNIT][,even7|none][,poll][,zeroed][,cts|dsr][,channel=N], NAME=PORT,cts|dsr for a pedal,"
    " or the NAME of a gauge that was met"
)
_PEDAL_LINES: dict[str, Literal["cts", "dsr"]] = {"cts": "cts", "dsr": "dsr"}
# A request-only gauge bears two to five questions a second.
_POLL_SECONDS = 0.25


def gauge_from(text: str, known: Known | None = None) -> GaugeSettings:
    """The gauge that `text` names, as on a command line.

    `dial=/dev/ttyUSB0,ascii-signed-cr,mm` says all of it. `dial` is the gauge of that name in `known`, `dial=/dev/ttyUSB1` the same on
    another port, and `dial=lever` the gauge called lever, under the name dial.
    Raises SettingError that says which part is wrong.
    """
    settings = bench_part_from(text, known)
    if isinstance(settings, PedalSettings):
        raise SettingError(f"{text!r} is a pedal, expected a gauge: NAME=PORT,KEY[,UNIT]")
    return settings


def bench_part_from(text: str, known: Known | None = None) -> GaugeSettings | PedalSettings:
    """As `gauge_from`; `pedal=/dev/ttyUSB1,cts` is a pedal."""
    met = known or {}
    name, _, rest = text.partition("=")
    port, *options = rest.split(",")
    if not name or (not port and (options or "=" in text)):
        raise SettingError(f"{text!r}, expected {_EXPECTED}")
    if not port:
        if name not in met:
            raise SettingError(f"gauge {name!r} has not been met ({_met(met)}), expected {_EXPECTED}")
        return met[name]
    if not options:
        if port in met:
            return replace(met[port], name=name)
        if name in met:
            return replace(met[name], port=port)
        raise SettingError(f"{text!r} has no format and {name!r} has not been met ({_met(met)}), expected {_EXPECTED}")
    line = _PEDAL_LINES.get(options[0])
    if line is not None:
        if len(options) > 1:
            raise SettingError(f"{text!r}: a pedal takes nothing after its line, expected NAME=PORT,{line}")
        return PedalSettings(name, port, line)
    settings = GaugeSettings(name, options[0], port)
    row = settings.row
    for option in options[1:]:
        change = _OPTIONS.get(option)
        if change is not None:
            settings = change(settings)
        elif option.startswith("channel=") and option != "channel=":
            settings = replace(settings, channel=option.removeprefix("channel="))
        elif option.isdecimal() and row.takes_address:
            settings = replace(settings, address=int(option))
        elif settings.unit is None:
            settings = replace(settings, unit=option)
        else:
            raise SettingError(f"{text!r}: {option!r} is no setting, expected {_EXPECTED}")
    settings.decoder()
    return settings


_OPTIONS: dict[str, Callable[[GaugeSettings], GaugeSettings]] = {
    "even7": lambda settings: replace(settings, parity="even7"),
    "none": lambda settings: replace(settings, parity="none"),
    "cts": lambda settings: replace(settings, pedal="cts"),
    "dsr": lambda settings: replace(settings, pedal="dsr"),
    "poll": lambda settings: replace(settings, poll_seconds=_POLL_SECONDS),
    "zeroed": lambda settings: replace(settings, is_zeroed=True),
}


def _met(known: Known) -> str:
    return f"known are {', '.join(sorted(known))}" if known else "none is known yet, `benchhand gauges meet PORT` makes one known"
