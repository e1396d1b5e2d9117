"""A record per pull. Source: torque tester owner's manual, "Torq-Tronics 2", appendix A.4.1 (the report's first records) and A.5.1.1 (BEL)."""

import re

import pytest

from gauges.errors import SettingError
from gauges.formats import decode
from gauges.formats.torque_csv_peak import TorqueCsvPeak
from gauges.reading import Reading, to_json
from tests.suites.decoder import LineEnds, OpenedInMidFrame, ShowsUnit


def record(number: int, value: str = "+14.8275", unit: str = "In.oz", mode: str = "PEAK", verdict: str = "NA") -> bytes:
    """A record as the manual prints it."""
    return f"{value},{unit},{mode},{verdict},{number:03d},00001234,Test Station 1,.000001,.000001,05/31/2011,11:55:55\r\n".encode()


class TestSuite(LineEnds, OpenedInMidFrame, ShowsUnit):
    key = "torque-csv-peak"
    opening = line_end = b"\r\n"
    longest = 200
    clean = (
        (
            b"+41.2597,In.oz,PEAK,NA,001,00001234,Test Station 1,.000001,.000001,05/31/2011,11:45:34\r\n",
            [{"value": "41.2597", "unit": "ozf.in"}],
        ),
        (
            b"+14.8275,In.oz,PEAK,NA,002,00001234,Test Station 1,.000001,.000001,05/31/2011,11:55:55\r\n",
            [{"value": "14.8275", "unit": "ozf.in"}],
        ),
        (
            b"+14.3511,In.oz,PEAK,NA,003,00001234,Test Station 1,.000001,.000001,05/31/2011,11:56:10\r\n",
            [{"value": "14.3511", "unit": "ozf.in"}],
        ),
        (record(4, "-14.2901"), [{"value": "-14.2901", "unit": "ozf.in"}]),
    )
    damaged = (
        (b"+41.2597,In.oz,PEAK,NA\r\n", "shape"),
        # The manual's fourth record has a twelfth, empty field.
        (b"+14.2901,In.oz,PEAK,NA,004,00001234,,Test Station 1,.000001,.000001,05/31/2011,11:56:27\r\n", "shape"),
        (b"\x07\r\n", "gauge-error"),
        (b"Start Report Tester Serial number: 00001234,\r\n", "shape"),
        (b"+14.8275,In.oz,PEAK,NA,002,00001234,Test Station 1,.000001,.000001,05/31/2011,11:55:55\r\n", "duplicate"),
        (record(2, "14.8275"), "shape"),
        (record(2, unit="furlong"), "unit"),
        (record(2, mode="FIRST"), "mode-change"),
        (record(2, "+14.827"), "decimals-change"),
    )
    other_unit = (record(2, "+2.5787", "In.lb"), {"value": "2.5787", "unit": "lbf.in"}, "unit-change")
    exact = re.compile(rb"[+-]\d+\.\d+(,[^,]*){10}")


def test_a_jump_of_the_record_number_is_told_before_the_reading_and_the_count_runs_round() -> None:
    decoder = decode("torque-csv-peak")
    said = [to_json(event) for event in decoder.feed(b"\r\n" + record(997) + record(999) + record(0) + record(1))]
    value = {"value": "14.8275", "unit": "ozf.in"}
    assert said == [value, {"status": "records missing"}, value, value, value]


@pytest.mark.parametrize("verdict", ["OK", "HI", "LO"])
def test_the_verdict_is_kept_beside_the_value(verdict: str) -> None:
    (event,) = decode("torque-csv-peak").feed(b"\r\n" + record(1, verdict=verdict))
    assert isinstance(event, Reading)
    assert event.marks == (verdict,)


def test_fields_that_the_print_flags_drop_are_a_setting() -> None:
    (event,) = TorqueCsvPeak(fields=("value", "unit", "mode")).feed(b"\r\n+14.8275,In.oz,PEAK\r\n")
    assert to_json(event) == {"value": "14.8275", "unit": "ozf.in"}
    with pytest.raises(SettingError, match="expected value, unit, mode"):
        TorqueCsvPeak(fields=("value", "unit"))
