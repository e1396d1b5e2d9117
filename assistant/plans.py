"""Plan files for capture: read, checked, all problems at once, each with its place and what was expected."""

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StrictInt, ValidationError, model_validator

from assistant.core.capability import D2
from assistant.core.inspection import Characteristic, Plan
from assistant.core.quantities import Quantity
from assistant.files import Figure, FileProblemsError, Positive, UnitName, problems_told

_LARGEST = max(D2)
Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\n\r]*$")]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class CharacteristicTable(_Table):
    """One [[characteristic]]."""

    name: Name
    unit: UnitName | None = None
    nominal: Figure | None = None
    tolerance: Positive | None = None
    low: Figure | None = None
    high: Figure | None = None
    guard_band: Positive | None = None
    gauge: Name | None = None
    value: Literal["settled", "swing", "turn", "drag", "pull"] = "settled"
    subgroup: Annotated[StrictInt, Field(ge=1, le=_LARGEST)] | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        figures = (self.nominal, self.tolerance, self.low, self.high, self.guard_band)
        if any(figure is not None for figure in figures) and self.unit is None:
            raise ValueError("has figures but no unit, expected one such as mm")
        if self.tolerance is not None and (self.nominal is None or self.low is not None or self.high is not None):
            raise ValueError("tolerance is plus or minus around a nominal, and stands beside no low or high")
        if self.low is not None and self.high is not None and self.high < self.low:
            raise ValueError(f"high {self.high} is below low {self.low}")
        low, high = self._limits()
        if self.guard_band is not None and low is None and high is None:
            raise ValueError("guard_band without a limit to take it off")
        if self.guard_band is not None and low is not None and high is not None and 2 * self.guard_band >= high - low:
            raise ValueError(
                f"guard_band {self.guard_band} on both sides leaves nothing of {low} to {high}: the gauge is too coarse for it"
            )
        return self

    def _limits(self) -> tuple[Decimal | None, Decimal | None]:
        if self.tolerance is not None and self.nominal is not None:
            return self.nominal - self.tolerance, self.nominal + self.tolerance
        return self.low, self.high

    def characteristic(self, subgroup: int) -> Characteristic:
        """The characteristic; subgroup: the plan's, where it names none itself."""

        def quantity(figure: Decimal | None) -> Quantity | None:
            return None if figure is None or self.unit is None else Quantity(figure, self.unit)

        low, high = self._limits()
        return Characteristic(
            self.name, self.unit, quantity(self.nominal), quantity(low), quantity(high), quantity(self.guard_band), self.gauge, self.value,
            self.subgroup or subgroup,
        )  # fmt: skip


class PlanFile(_Table):
    """A plan file, as docs/capture.md describes it."""

    title: str = ""
    subgroup: Annotated[StrictInt, Field(ge=1, le=_LARGEST)] = 1
    characteristic: tuple[CharacteristicTable, ...]

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        if not self.characteristic:
            raise ValueError("has no [[characteristic]], expected at least one")
        names = [one.name for one in self.characteristic]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"{', '.join(twice)} stands more than once, expected another name for each characteristic")
        return self


def read_plan(path: Path) -> Plan:
    """The plan of a file. Raises FileProblemsError with everything that is wrong with it."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise FileProblemsError(path.name, [f"cannot be read: {error.strerror or error}"]) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FileProblemsError(path.name, [f"is not TOML: {error}"]) from error
    return plan_from(data, path.name)


def plan_from(data: dict[str, Any], where: str) -> Plan:
    """The plan of a parsed file; `where` names it in the problems. Raises FileProblemsError."""
    try:
        file = PlanFile.model_validate(data)
    except ValidationError as error:
        raise FileProblemsError(where, problems_told(error, "", "plan")) from error
    return Plan(file.title, tuple(one.characteristic(file.subgroup) for one in file.characteristic))
