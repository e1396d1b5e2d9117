"""Job files, procedures and phrases: read, checked, all problems at once, each with its place and what was expected.

The core never reads a file; it gets what this module makes.
"""

import hashlib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StrictInt, ValidationError, model_validator

from assistant.core.axle import QUANTITIES, Axle, Job, KitShim, Limits, Parts
from assistant.core.errors import BadInputError
from assistant.core.mistakes import looks_from, mistakes_from
from assistant.core.phrases import Phrases, StepText, fields_of
from assistant.core.quantities import Dimension, Quantity, decimal_from, unit_named
from assistant.core.steps import PartRule, Procedure, Step, problems, text_problems
from assistant.core.tongues import TONGUES

HERE = Path(__file__).parent


class FileProblemsError(BadInputError):
    """A file is wrong; `problems` lists everything that is, each on one line with its place and what was expected."""

    def __init__(self, where: str, found: Iterable[str]) -> None:
        self.problems = tuple(found)
        super().__init__(f"{where}: " + "; ".join(self.problems))


# ---- jobs


def _decimal_text(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise ValueError(f'{value!r} is not a decimal in quotes, such as "0.0065"')
    return decimal_from(str(value))


def _signed_text(value: Any) -> Decimal:
    figure = _decimal_text(value)
    if figure != 0 and not str(value).startswith(("+", "-")):
        raise ValueError(f"{value!r} has no sign, expected + or -")
    return figure


def _unit_text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is not the name of a unit")
    return unit_named(value).symbol


Figure = Annotated[Decimal, BeforeValidator(_decimal_text)]
Positive = Annotated[Figure, Field(gt=0)]
Signed = Annotated[Decimal, BeforeValidator(_signed_text)]
UnitName = Annotated[str, BeforeValidator(_unit_text)]
Teeth = Annotated[StrictInt, Field(ge=1, le=200)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class AxleTable(_Table):
    """[axle]: the layout."""

    pinion_shims: Literal["flange", "head-cone", "head-cup"]
    preload: Literal["spacer-shims", "crush-sleeve"]
    carrier: Literal["adjusters", "side-shims", "case-shims"]
    ring_gear_side: Literal["left", "right"]
    teeth: Literal["face-milled", "face-hobbed", "unknown"] = "unknown"
    ring_teeth: Teeth
    pinion_teeth: Teeth
    notch_lead_in: Positive | None = None
    notch_lead_mm: Positive | None = None
    pressure_angle: Annotated[Figure, Field(ge=10, le=30)] | None = None
    spiral_angle: Annotated[Figure, Field(ge=0, le=55)] | None = None

    @model_validator(mode="after")
    def _both_angles(self) -> Self:
        if (self.pressure_angle is None) != (self.spiral_angle is None):
            missing = "pressure_angle" if self.pressure_angle is None else "spiral_angle"
            raise ValueError(f"{missing} is missing, expected both angles of the teeth or none")
        return self

    @model_validator(mode="after")
    def _ring_is_larger(self) -> Self:
        if self.ring_teeth <= self.pinion_teeth:
            raise ValueError(f"ring_teeth is {self.ring_teeth}, expected more than the pinion's {self.pinion_teeth}")
        return self

    def axle(self) -> Axle:
        lead = Quantity(self.notch_lead_in, "in") if self.notch_lead_in else None
        lead = Quantity(self.notch_lead_mm, "mm") if self.notch_lead_mm else lead
        angles = (None if angle is None else Quantity(angle, "deg") for angle in (self.pressure_angle, self.spiral_angle))
        return Axle(
            self.pinion_shims,
            self.preload,
            self.carrier,
            self.ring_gear_side,
            self.teeth,
            self.ring_teeth,
            self.pinion_teeth,
            lead,
            *angles,
        )


class LimitsTable(_Table):
    """One line of [spec]: what the manual allows."""

    low: Annotated[Figure, Field(ge=0)] | None = None
    high: Annotated[Figure, Field(ge=0)] | None = None
    value: Positive | None = None
    unit: UnitName
    variation: Positive | None = None
    judge: Literal["all", "minimum", "mean"] = "all"
    seal: Literal["in", "out"] | None = None
    bearings: Literal["new", "used"] | None = None

    @model_validator(mode="after")
    def _some_limit(self) -> Self:
        if self.value is not None and (self.low is not None or self.high is not None):
            raise ValueError("value stands beside low or high, expected one or the other")
        if self.low is None and self.high is None and self.value is None:
            raise ValueError("has neither low nor high, expected at least one limit of the manual")
        if self.low is not None and self.high is not None and self.high < self.low:
            raise ValueError(f"high {self.high} is below low {self.low}")
        return self

    def limits(self) -> Limits:
        figures = (self.value, self.value) if self.value is not None else (self.low, self.high)
        low, high, variation = (None if figure is None else Quantity(figure, self.unit) for figure in (*figures, self.variation))
        return Limits(low, high, variation, self.judge, self.seal, self.bearings)


class DepthTable(_Table):
    """[spec] pinion_depth: from the ring-gear centre line to the face of an unmarked pinion."""

    target: Positive
    tolerance: Positive
    unit: UnitName


class PreloadTable(_Table):
    """[spec] carrier_preload: notches past no play, or the thickness to add."""

    value: Annotated[Figure, Field(ge=0)]
    unit: UnitName


class EtchTable(_Table):
    """A pinion's mark, with its sign."""

    value: Annotated[Signed, Field(ge=-1500, le=1500)]
    unit: Literal["0.001 in", "0.01 mm", "0.001 mm"]

    @model_validator(mode="after")
    def _not_a_serial_number(self) -> Self:
        if abs(self.quantity().base) > Quantity.of("0.060", "in").base:
            raise ValueError(f"{self.value} of {self.unit} is too large for a mark: a serial number or a date?")
        return self

    def quantity(self) -> Quantity:
        return Quantity(self.value, self.unit)


class ShimRow(_Table):
    """One size in a kit, as measured."""

    thickness: Positive
    count: Annotated[StrictInt, Field(ge=0, le=100)] = 1
    unit: UnitName | None = None


class PartsTable(_Table):
    """[parts]: marks and kits."""

    etch_old: EtchTable | None = None
    etch_new: EtchTable | None = None
    etch_sign: Literal["away", "toward"] | None = None
    shim_kit: tuple[ShimRow, ...] = ()
    preload_kit: tuple[ShimRow, ...] = ()
    side_kit: tuple[ShimRow, ...] = ()


class JobFile(_Table):
    """A job file, as docs/machine.md describes it."""

    title: str = ""
    units: Literal["in", "mm"]
    axle: AxleTable
    spec: dict[str, Any] = Field(default_factory=dict)
    parts: PartsTable = Field(default_factory=PartsTable)


# What no axle of any size has; a unit slip is far likelier (docs/trade.md, section 3, "refuse").
_IMPOSSIBLE = {"backlash": "0.5in", "ring_runout": "0.5in", "pinion_drag": "130lb-in", "total_drag": "400lb-in"}


def read_job(path: Path) -> Job:
    """The job of a file. Raises FileProblemsError with everything that is wrong with it."""
    try:
        # With or without the byte order mark that some editors put in front.
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise FileProblemsError(path.name, [f"cannot be read: {error.strerror or error}"]) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FileProblemsError(path.name, [f"is not TOML: {error}"]) from error
    return job_from(data, path.name)


_BY_PATTERN = "by pattern"


def job_from(data: dict[str, Any], where: str) -> Job:
    """The job of a parsed file; `where` names it in the problems. Raises FileProblemsError."""
    found: list[str] = []
    file = _validated(JobFile, data, "", found)
    spec = data.get("spec", {})
    spec = spec if isinstance(spec, dict) else {}
    limits: dict[str, Limits] = {}
    for name, table in spec.items():
        if name in QUANTITIES and name != "pinion_depth":
            read = _validated(LimitsTable, table, f"spec.{name}", found)
            if read is not None and _has_dimension(name, read.unit, QUANTITIES[name], found):
                limits[name] = read.limits()
        elif name not in ("pinion_depth", "carrier_preload", "backlash_spots"):
            found.append(f"spec.{name}: not known, expected a quantity of the interface, carrier_preload or backlash_spots")
    told = spec.get("pinion_depth")
    by_pattern = told == _BY_PATTERN
    if isinstance(told, str) and not by_pattern:
        found.append(
            f"spec.pinion_depth: expected target, tolerance and unit, or {_BY_PATTERN!r} where the manual gives none, not {told!r}"
        )
    depth = _validated(DepthTable, told, "spec.pinion_depth", found) if told is not None and not isinstance(told, str) else None
    if depth is not None:
        _has_dimension("pinion_depth", depth.unit, Dimension.LENGTH, found)
    preload = _validated(PreloadTable, spec["carrier_preload"], "spec.carrier_preload", found) if "carrier_preload" in spec else None
    if preload is not None and file is not None:
        wanted = Dimension.NOTCHES if file.axle.carrier == "adjusters" else Dimension.LENGTH
        _has_dimension("carrier_preload", preload.unit, wanted, found)
    spots = spec.get("backlash_spots", 3)
    if not isinstance(spots, int) or isinstance(spots, bool) or not 3 <= spots <= 16:
        found.append(f"spec.backlash_spots: {spots!r}, expected 3 to 16 places")
    for name, most in _IMPOSSIBLE.items():
        high = limits[name].high if name in limits else None
        if high is not None and high > Quantity.parse(most):
            found.append(f"spec.{name}: {high} is more than is possible ({most}); is the unit right?")
    parts = _parts(file.parts, file.units, found) if file is not None else Parts()
    if found or file is None:
        raise FileProblemsError(where, found)
    return Job(
        title=file.title,
        units=file.units,
        axle=file.axle.axle(),
        spec=tuple(limits.items()),
        depth_target=Quantity(depth.target, depth.unit) if depth else None,
        depth_tolerance=Quantity(depth.tolerance, depth.unit) if depth else None,
        depth_by_pattern=by_pattern,
        carrier_preload=Quantity(preload.value, preload.unit) if preload else None,
        backlash_spots=spots,
        parts=parts,
    )


Model = TypeVar("Model", bound=BaseModel)


def _validated(model: type[Model], data: Any, place: str, found: list[str]) -> Model | None:
    """`data` as a model, or None with every problem noted: its place, what was seen, what was expected."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        found += problems_told(error, place, "file")
        return None


def problems_told(error: ValidationError, place: str, whole: str) -> list[str]:
    """Each problem on a line: its place, what was expected, what was seen. place: where the table stands; whole: what has no place at all."""
    told = []
    for problem in error.errors(include_url=False, include_context=False):
        # Rows are counted as people count them, from one.
        loc = (str(part + 1) if isinstance(part, int) else str(part) for part in problem["loc"])
        at = ".".join([part for part in (place, *loc) if part])
        is_said = problem["type"] in ("missing", "value_error", "extra_forbidden")
        seen = "" if is_said or isinstance(problem["input"], dict) else f", not {problem['input']!r}"
        told.append(f"{at or whole}: {_expected(problem['msg'])}{seen}")
    return told


_IN_A_FILE = (
    (r"a valid dictionary( or instance of \w+)?", "a table"),
    ("a valid tuple", "a list of tables"),
    ("a valid string", "text in quotes"),
    ("a valid integer", "a whole number"),
)


def _expected(message: str) -> str:
    known = {"Field required": "is missing", "Extra inputs are not permitted": "is not known here"}
    text = known.get(message, message.removeprefix("Value error, ").replace("Input should be", "expected"))
    # What a file calls what the checking library calls by names of a program.
    for pattern, word in _IN_A_FILE:
        text = re.sub(pattern, word, text)
    return text


def _has_dimension(name: str, unit: str, dimension: Dimension, found: list[str]) -> bool:
    fits = unit_named(unit).dimension is dimension
    if not fits:
        found.append(f"spec.{name}.unit: {unit}, expected a unit of {dimension.value}")
    return fits


def _parts(table: PartsTable, units: str, found: list[str]) -> Parts:
    kits: list[tuple[KitShim, ...]] = []
    for name in ("shim_kit", "preload_kit", "side_kit"):
        rows: tuple[ShimRow, ...] = getattr(table, name)
        kit = tuple(KitShim(Quantity(row.thickness, row.unit or units), row.count) for row in rows)
        for index, shim in enumerate(kit, start=1):
            if shim.thickness.dimension is not Dimension.LENGTH or shim.thickness > Quantity.of("2", "in"):
                found.append(f"parts.{name}.{index}: {shim.thickness} is no shim, expected less than 2 in; is the unit right?")
        kits.append(kit)
    old, new = (mark.quantity() if mark is not None else None for mark in (table.etch_old, table.etch_new))
    return Parts(old, new, table.etch_sign, kits[0], kits[1], kits[2])


# ---- procedures


def procedure_for(axle: Axle) -> Procedure:
    """The order of work for a layout. Raises FileProblemsError when the layout has none, or when its data is wrong."""
    return _procedure(axle.pinion_shims, axle.preload, axle.carrier)


@cache
def _procedure(pinion_shims: str, preload: str, carrier: str) -> Procedure:
    folder = HERE / "procedures"
    name = f"{pinion_shims} + {preload} + {carrier}"
    orders = tomllib.loads((folder / "order.toml").read_text(encoding="utf-8"))["order"]
    order = next((order for order in orders if order["preload"] == preload and pinion_shims in order["pinion_shims"]), None)
    if order is None:
        raise FileProblemsError(name, ["no order of work is known for this layout"])
    steps: list[Step] = []
    rules: list[PartRule] = []
    found: list[str] = []
    checksum = hashlib.sha256()
    for part in order["parts"]:
        path = folder / f"{part.format(pinion_shims=pinion_shims, carrier=carrier)}.toml"
        if not path.exists():
            raise FileProblemsError(name, [f"no steps are known for {path.stem.replace('_', ' ')}"])
        text = path.read_text(encoding="utf-8")
        checksum.update(text.encode())
        data = tomllib.loads(text)
        for table in data.get("step", []):
            step = _validated(StepTable, table, f"{path.name}: step {table.get('id', '?')}", found)
            steps += [Step(**step.model_dump())] if step is not None else []
        rules += [PartRule(rule["part"], tuple(rule["undoes"]), tuple(rule["voids"])) for rule in data.get("part", [])]
    procedure = Procedure(name, tuple(steps), tuple(rules), tuple(order["requires"]), checksum.hexdigest())
    found += problems(procedure)
    if found:
        raise FileProblemsError(name, found)
    return procedure


@cache
def every_choice() -> tuple[str, ...]:
    """Every choice that some step of some layout, or an alarm of a known mistake, offers."""
    found: list[str] = []
    for path in sorted((HERE / "procedures").glob("*.toml")):
        for step in tomllib.loads(path.read_text(encoding="utf-8")).get("step", []):
            found += step.get("choices", ())
    found += (row.cause for row in phrases_for().mistakes)
    return tuple(dict.fromkeys(found))


class StepTable(_Table):
    """One [[step]]: see `assistant.core.steps.Step`."""

    id: str
    phase: str
    kind: str
    ask: str = "done"
    quantity: str | None = None
    part: str | None = None
    spots: int = 0
    choices: tuple[str, ...] = ()
    when: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    voids: tuple[str, ...] = ()
    undoes: tuple[str, ...] = ()
    fits: str | None = None
    caution: str | None = None
    redo: tuple[str, ...] = ()
    words: str | None = None


# ---- phrases


def language_named(text: str) -> str:
    """The code of a language that benchhand speaks. Raises BadInputError for any other text."""
    if text not in TONGUES:
        raise BadInputError(
            f"language {text!r} is not spoken here, expected {' or '.join(f'{code} ({one.name})' for code, one in TONGUES.items())}"
        )
    return text


@cache
def phrases_for(language: str = "en") -> Phrases:
    """The texts of a language. Raises FileProblemsError when they are not whole."""
    path = HERE / "phrases" / f"{language}.toml"
    data = _texts_of(language)
    steps: dict[str, StepText] = {}
    found: list[str] = []
    for step_id, text in data.get("step", {}).items():
        unknown = sorted(set(text) - {"title", "say", "why", "caution"})
        found += [f"step {step_id}: {key} is not known" for key in unknown]
        found += [f"step {step_id}: {key} is missing" for key in ("title", "say", "why") if not text.get(key)]
        steps[step_id] = StepText(text.get("title", ""), text.get("say", ""), text.get("why", ""), text.get("caution", ""))
    document = tomllib.loads((HERE / "mistakes.toml").read_text(encoding="utf-8"))
    mistakes = mistakes_from(document)
    phrases = Phrases(language, steps, data.get("sentences", {}), data.get("names", {}), mistakes, looks=looks_from(document, mistakes))
    if language == "en":
        if found:
            raise FileProblemsError(path.name, found)
        return phrases
    english = _texts_of("en")
    found += untranslated(data, english, [row.id for row in mistakes], {look.id: look.text for look in phrases.looks})
    if found:
        raise FileProblemsError(path.name, found)
    return _translated(data, english, replace(phrases, tongue=TONGUES[language]))


def _texts_of(language: str) -> dict[str, Any]:
    return tomllib.loads((HERE / "phrases" / f"{language}.toml").read_text(encoding="utf-8"))


def untranslated(data: Mapping[str, Any], english: Mapping[str, Any], mistakes: Sequence[str], looks: Mapping[str, str]) -> list[str]:
    """What a translated phrases file lacks, has too much, or fills in otherwise than the English one. mistakes: the ids of mistakes.toml; looks: the
    texts of its looks, by id.

    The choices are looked at by tests/test_tongues.py: they are spread over the procedures.
    """
    found = [f"[{part}] is missing" for part in ("names", "sentences", "choices", "reasons") if part not in data]
    texts = {f"{part}.{key}": text for part in ("names", "sentences") for key, text in english[part].items()}
    texts |= {f"step.{step}.{key}": text for step, each in english["step"].items() for key, text in each.items()}
    texts |= {f"mistake.{name}.{key}": "" for name in mistakes for key in ("cause", "check", "phrase")}
    texts |= {f"looks.{name}": text for name, text in looks.items()}
    mine = {f"{part}.{key}": text for part in ("names", "sentences", "looks") for key, text in data.get(part, {}).items()}
    mine |= {
        f"{part}.{name}.{key}": text
        for part in ("step", "mistake")
        for name, each in data.get(part, {}).items()
        for key, text in each.items()
    }
    for key in sorted(texts.keys() | mine.keys()):
        if key not in mine or not mine[key]:
            found.append(
                f"{key} has no words here: translate {texts[key]!r}, with the same names in braces" if texts[key] else f"{key} is missing"
            )
        elif key not in texts:
            found.append(f"{key} is not known: en.toml and mistakes.toml have no such text")
        elif fields_of(texts[key]) != fields_of(mine[key]):
            found.append(f"{key} fills in {sorted(fields_of(mine[key]))}, expected {sorted(fields_of(texts[key]))}")
    return found


def _translated(data: Mapping[str, Any], english: Mapping[str, Any], phrases: Phrases) -> Phrases:
    """Phrases whose choices and causes keep the interface's names, and are said in their own words."""
    causes = {key.removeprefix("cause."): text for key, text in english["sentences"].items() if key.startswith("cause.")}
    choices = {**data["choices"], **{text: data["sentences"][f"cause.{key}"] for key, text in causes.items()}}
    choices |= {row.cause: data["mistake"][row.id]["cause"] for row in phrases.mistakes}
    words = {row.id: data["mistake"][row.id] for row in phrases.mistakes}
    mistakes = tuple(replace(row, check=words[row.id]["check"], phrase=words[row.id]["phrase"]) for row in phrases.mistakes)
    looks = tuple(replace(look, text=data["looks"][look.id]) for look in phrases.looks)
    # "turned {0} times" stands for whatever was put in there.
    reasons = tuple((re.compile(re.sub(r"\\\{\d\\\}", "(.+)", re.escape(known))), said) for known, said in data["reasons"].items())
    return replace(phrases, mistakes=mistakes, choices=choices, causes=causes, reasons=reasons, looks=looks)


def check(procedure: Procedure, phrases: Phrases) -> None:
    """Whether the phrases have words for every step and caution of a procedure. Raises FileProblemsError."""
    found = text_problems(procedure, tuple(phrases.steps))
    for step in procedure.steps:
        if step.caution is not None and step.text in phrases.steps and not phrases.steps[step.text].caution:
            found.append(f"{procedure.name}: step {step.id} has no caution in the phrases")
    if found:
        raise FileProblemsError(procedure.name, found)
