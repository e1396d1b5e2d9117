"""Recording some seconds: on a device that exists everywhere and sounds for nobody."""

import pytest

from assistant.ears import RATE
from assistant.ears.crop import Endpointer
from assistant.ears.devices import NoDeviceError
from assistant.ears.recorder import looked_at, recorded


def test_so_many_seconds_are_recorded() -> None:
    samples = recorded(0.3, silent=True)
    assert len(samples) == round(0.3 * RATE)
    assert not samples.any()


def test_a_microphone_that_is_not_there_is_named_with_what_is() -> None:
    with pytest.raises(NoDeviceError, match="microphone 'no such one' is not plugged in; there is:"):
        recorded(0.3, "no such one")


def test_nothing_at_all_can_be_looked_at() -> None:
    assert looked_at(recorded(0.3, silent=True)[:0], Endpointer()).wrong
