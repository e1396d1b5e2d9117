"""The gauges that were met: one table each in the user's settings file (TOML), written by the first meeting and read by name.

House rules: what else stands in the file stays as it is, comments too; the file is written whole beside itself and then put in its place;
everything that is wrong with it is told at once.
"""

import os
import tomllib
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, Literal, cast

from gauges.errors import SettingError
from gauges.formats import format_named
from gauges.settings import GaugeSettings, Identity

_KEYS = (
    "format", "unit", "parity", "line", "address", "port", "vendor", "product", "serial_number", "location", "poll_seconds", "asks_by_dtr",
    "pedal", "deaf_seconds", "step", "range_end", "silent_seconds", "channel", "zeroed", "uses", "met",
)  # fmt: skip


def settings_file(told: Path | None = None) -> Path:
    """The settings file: as told, else the environment's BENCHHAND_SETTINGS, else in the user's folder for settings.

    Of a user without a home, as a service may be, it lies where no file can be: there are no settings, and none can be kept.
    """
    if told is not None:
        return told.expanduser()
    if os.environ.get("BENCHHAND_SETTINGS"):
        return Path(os.environ["BENCHHAND_SETTINGS"]).expanduser()
    folder = os.environ.get("APPDATA") if os.name == "nt" else os.environ.get("XDG_CONFIG_HOME")
    try:
        return Path(folder or "~/.config").expanduser() / "benchhand" / "settings.toml"
    except RuntimeError:
        return Path(os.devnull) / "settings.toml"


def known_gauges(path: Path) -> dict[str, GaugeSettings]:
    """The gauges of a settings file by name; none where there is no file. Raises SettingError with everything that is wrong in it."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except OSError as error:
        raise SettingError(f"{path}: {error.strerror}, expected a settings file that can be read") from error
    except ValueError as error:
        raise SettingError(f"{path} is not TOML: {error}") from error
    tables = data.get("gauge", {})
    known: dict[str, GaugeSettings] = {}
    problems: list[str] = []
    for name, table in tables.items() if isinstance(tables, dict) else ():
        try:
            known[name] = _gauge(name, table)
        except SettingError as error:
            problems.append(f"gauge.{name}: {error}")
    if problems:
        raise SettingError(f"{path}: {'; '.join(problems)}")
    return known


def keep(path: Path, settings: GaugeSettings, met: Mapping[str, str]) -> None:
    """Put a gauge's table into the settings file, in place of an earlier one of its name. met: what each step of the meeting found.

    Raises SettingError when the file there cannot be read as TOML, OSError when it cannot be written: it is then as it was.
    """
    import tomlkit

    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        document = tomlkit.document()
        document.add(tomlkit.comment("Gauges that were met. `benchhand gauges meet PORT` writes a table each; it may be changed by hand."))
    except ValueError as error:
        raise SettingError(f"{path} is not TOML: {error}; set it right first, nothing was written") from error
    gauges = document.setdefault("gauge", tomlkit.table(is_super_table=True))
    gauges[settings.name] = {**_table(settings), "met": dict(met)}
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f"{path.name}.new")
    with beside.open("w", encoding="utf-8") as file:
        file.write(tomlkit.dumps(document))
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)


def _table(settings: GaugeSettings) -> dict[str, Any]:
    """What differs from the family's own."""
    port = settings.port
    table: dict[str, Any] = {"format": settings.key}
    if isinstance(port, str):
        table["port"] = port
    else:
        table |= {"vendor": f"{port.vendor:04x}", "product": f"{port.product:04x}"}
        table |= {"serial_number": port.serial_number} if port.serial_number is not None else {"location": port.location or ""}
    for name in ("unit", "parity", "address", "pedal", "channel"):
        if getattr(settings, name) is not None:
            table[name] = getattr(settings, name)
    if settings.line is not None:
        table["line"] = str(settings.line)
    for name in ("poll_seconds", "deaf_seconds", "step", "range_end", "silent_seconds"):
        # In quotes: a decimal of a gauge is never a float.
        if getattr(settings, name) is not None:
            table[name] = str(getattr(settings, name))
    for name, is_set in (("asks_by_dtr", settings.asks_by_dtr), ("zeroed", settings.is_zeroed)):
        if is_set:
            table[name] = True
    if settings.uses:
        table["uses"] = list(settings.uses)
    return table


def _gauge(name: str, table: Any) -> GaugeSettings:
    """A gauge from its table. Raises SettingError."""
    if not isinstance(table, dict):
        raise SettingError(f"{table!r}, expected a table with a format and a port")
    unknown = [key for key in table if key not in _KEYS]
    if unknown:
        raise SettingError(f"{', '.join(unknown)} not known, expected some of {', '.join(_KEYS)}")
    row = format_named(_text(table, "format") or "")
    line = _text(table, "line")
    known_lines = {str(one): one for one in row.lines}
    if line is not None and line not in known_lines:
        raise SettingError(f"line {line!r}, expected one of {', '.join(known_lines) or 'none: no serial line is involved'}")
    parity, pedal = _text(table, "parity"), _text(table, "pedal")
    if pedal not in (None, "cts", "dsr"):
        raise SettingError(f"pedal {pedal!r}, expected cts or dsr")
    uses = table.get("uses", [])
    if not isinstance(uses, list) or not all(isinstance(use, str) for use in uses):
        raise SettingError(f"uses {uses!r}, expected a list of words")
    address = table.get("address")
    if address is not None and (isinstance(address, bool) or not isinstance(address, int)):
        raise SettingError(f"address {address!r}, expected a whole number")
    settings = GaugeSettings(
        name, row.key, _port(table), unit=_text(table, "unit"),
        parity=cast("Literal['even7', 'none'] | None", parity), address=address,
        line=None if line is None else known_lines[line], poll_seconds=_seconds(table, "poll_seconds"),
        asks_by_dtr=table.get("asks_by_dtr") is True, pedal=cast("Literal['cts', 'dsr'] | None", pedal),
        deaf_seconds=_seconds(table, "deaf_seconds"), step=_decimal(table, "step"), range_end=_decimal(table, "range_end"),
        silent_seconds=_seconds(table, "silent_seconds"), channel=_text(table, "channel"), is_zeroed=table.get("zeroed") is True, uses=tuple(uses),
    )  # fmt: skip
    settings.decoder()
    return settings


def _port(table: Mapping[str, Any]) -> str | Identity:
    port = _text(table, "port")
    if port is not None:
        return port
    try:
        vendor, product = (int(_text(table, key) or "", 16) for key in ("vendor", "product"))
    except ValueError:
        raise SettingError("has neither a port nor a vendor and product of four hexadecimal digits") from None
    number, location = _text(table, "serial_number"), _text(table, "location")
    if number is None and location is None:
        raise SettingError("has a vendor and product, but neither serial_number nor location to tell it from its twins")
    return Identity(vendor, product, number, location)


def _text(table: Mapping[str, Any], key: str) -> str | None:
    value = table.get(key)
    if value is not None and not isinstance(value, str):
        raise SettingError(f"{key} is {value!r}, expected a text in quotes")
    return value


def _decimal(table: Mapping[str, Any], key: str) -> Decimal | None:
    text = _text(table, key)
    if text is None:
        return None
    try:
        value = Decimal(text)
    except InvalidOperation:
        value = Decimal(0)
    if not value.is_finite() or value <= 0:
        raise SettingError(f'{key} is {text!r}, expected a decimal in quotes above zero, such as "0.25"')
    return value


def _seconds(table: Mapping[str, Any], key: str) -> float | None:
    value = _decimal(table, key)
    return None if value is None else float(value)
