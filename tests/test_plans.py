"""Plan files, read whole or refused with everything that is wrong."""

import tomllib
from pathlib import Path

import pytest

from assistant.core.inspection import Characteristic, Plan
from assistant.core.quantities import Quantity
from assistant.files import FileProblemsError
from assistant.plans import plan_from, read_plan

PLAN = """
title = "bearing spacers"
subgroup = 5

[[characteristic]]
name = "outer diameter"
unit = "mm"
nominal = "25.400"
tolerance = "0.013"
guard_band = "0.002"
gauge = "micrometer"

[[characteristic]]
name = "run out"
unit = "in"
high = "0.0020"
gauge = "dial"
value = "turn"
subgroup = 1

[[characteristic]]
name = "remark"
"""


def test_a_plan_is_read_to_the_last_digit(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)

    def mm(text: str) -> Quantity:
        return Quantity.of(text, "mm")

    assert read_plan(path) == Plan(
        "bearing spacers",
        (
            Characteristic("outer diameter", "mm", mm("25.400"), mm("25.387"), mm("25.413"), mm("0.002"), "micrometer", "settled", 5),
            Characteristic("run out", "in", None, None, Quantity.of("0.0020", "in"), None, "dial", "turn", 1),
            Characteristic("remark", subgroup=5),
        ),
    )


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "characteristic: is missing"),
        ("characteristic = []", "has no [[characteristic]]"),
        ("colour = 1\n[[characteristic]]\nname = 'a'", "colour: is not known here"),
        ("subgroup = 11\n[[characteristic]]\nname = 'a'", "subgroup: expected less than or equal to 10, not 11"),
        ("[[characteristic]]\nname = 'a'\n[[characteristic]]\nname = 'a'", "a stands more than once"),
        ("[[characteristic]]\nname = ''", "characteristic.1.name"),
        ("[[characteristic]]\nname = 'a'\nlow = '1'", "no unit, expected one such as mm"),
        ("[[characteristic]]\nname = 'a'\nunit = 'mm'\nlow = 1.0", "1.0 is not a decimal in quotes"),
        ("[[characteristic]]\nname = 'a'\nunit = 'ell'\nlow = '1'", "unit 'ell' is not known"),
        ("[[characteristic]]\nname = 'a'\nunit = 'mm'\nlow = '2'\nhigh = '1'", "high 1 is below low 2"),
        ("[[characteristic]]\nname = 'a'\nunit = 'mm'\ntolerance = '1'", "around a nominal"),
        ("[[characteristic]]\nname = 'a'\nunit = 'mm'\nnominal = '1'\ntolerance = '1'\nhigh = '2'", "beside no low or high"),
        ("[[characteristic]]\nname = 'a'\nunit = 'mm'\nguard_band = '1'", "without a limit"),
        ("[[characteristic]]\nname = 'a'\nunit = 'mm'\nlow = '1'\nhigh = '2'\nguard_band = '0.5'", "the gauge is too coarse"),
        ("[[characteristic]]\nname = 'a'\nvalue = 'guess'", "characteristic.1.value: expected 'settled'"),
    ],
)
def test_a_wrong_plan_says_where_and_what_was_expected(text: str, problem: str) -> None:
    with pytest.raises(FileProblemsError) as told:
        plan_from(tomllib.loads(text), "plan.toml")
    assert problem in str(told.value)
    assert str(told.value).startswith("plan.toml: ")


def test_all_problems_come_at_once() -> None:
    with pytest.raises(FileProblemsError) as told:
        plan_from(tomllib.loads("[[characteristic]]\nname = ''\n[[characteristic]]\nname = 'b'\nlow = '1'\n"), "plan.toml")
    assert len(told.value.problems) == 2


def test_a_file_that_is_missing_or_no_toml_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileProblemsError, match="cannot be read"):
        read_plan(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_text("a = [")
    with pytest.raises(FileProblemsError, match="is not TOML"):
        read_plan(tmp_path / "bad.toml")
