"""The exceptions of this package; a damaged frame is never one of them (it is a `Fault`, a value).

GaugeError
├── SettingError   the caller's key, unit, parity or address is wrong: every message says what was given and what was expected
└── PortError      a port cannot be opened or used: taken by another program, no rights, not there
"""


class GaugeError(Exception):
    """Anything that this package raises on purpose."""


class SettingError(GaugeError, ValueError):
    """A setting is wrong or missing: format "ascii-singed-cr", or a family without a unit in its frames and no unit given."""


class PortError(GaugeError, OSError):
    """A port cannot be used: another program holds it, the cable is out, or the user has no rights on the device."""
