"""Sound devices by their names, for the microphone and the loudspeaker."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Literal

from assistant.core.errors import BadInputError

NO_DEVICE = "Discard all samples"
Direction = Literal["microphone", "loudspeaker"]


class NoDeviceError(BadInputError):
    """A sound device is not there. Scenes: a headset named in the settings is not plugged in; a computer without sound."""


def device_names(direction: Direction) -> list[str]:
    """The names of what is plugged in, as the system calls them; empty without a sound system."""
    return [str(device["name"]) for device in _devices(direction)]


def device_id(direction: Direction, name: str | None) -> Any:
    """The id of the device called `name` (or whose name holds it, if only one does); None, the system's own choice, for no name.

    Raises NoDeviceError, naming what there is: another device is never taken in its place.
    """
    if name is None:
        return None
    devices = _devices(direction)
    exact = [device for device in devices if device["name"] == name]
    fitting = exact or [device for device in devices if name.lower() in str(device["name"]).lower()]
    if len(fitting) != 1:
        there = ", ".join(str(device["name"]) for device in fitting or devices) or "none"
        fault = "is not plugged in" if not fitting else "fits more than one"
        raise NoDeviceError(f"{direction} {name!r} {fault}; there is: {there}")
    return fitting[0]["id"]


def _devices(direction: Direction) -> list[dict[str, Any]]:
    import miniaudio

    with quietly():
        try:
            found = miniaudio.Devices()
            listed: list[dict[str, Any]] = found.get_captures() if direction == "microphone" else found.get_playbacks()
        except miniaudio.MiniaudioError:
            return []
    # ALSA lists its bin beside the devices.
    return [] if found.backend == "Null" else [device for device in listed if not str(device["name"]).startswith(NO_DEVICE)]


@contextmanager
def quietly() -> Iterator[None]:
    """Keep the sound system's own chatter off standard error while a device is looked for: our one clear line says it better."""
    saved, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(saved, 2)
        os.close(saved)
        os.close(nowhere)
