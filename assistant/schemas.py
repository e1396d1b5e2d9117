"""What other programs give to us and get from us, as JSON Schemas (draft 2020-12): `python -m assistant.schemas docs/schemas` writes them.

Each comes from what the program itself uses: the models of the job file and of the board, the journal's codec, and models of the lines that are
held against the lines of whole jobs (tests/test_schemas.py).
"""

import dataclasses
import json
from decimal import Decimal
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, RootModel, create_model
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import CoreSchema, core_schema

from assistant.board import Told
from assistant.core import events
from assistant.core.axle import CHANNELS, PATTERNS, QUANTITIES
from assistant.core.quantities import UNITS, Quantity
from assistant.core.steps import CAUTION_KINDS, KINDS, MOVE_PARTS, PHASES
from assistant.files import DepthTable, JobFile, LimitsTable, PreloadTable
from assistant.history.summary import Summary

DRAFT = "https://json-schema.org/draft/2020-12/schema"
_DECIMAL = r"^[+-]?\d+(\.\d+)?$"
Schema = dict[str, Any]


# ---- the lines, as models


@dataclasses.dataclass(frozen=True)
class _OneOf:
    """One of these words."""

    words: tuple[str, ...]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.literal_schema(list(self.words))


DecimalText = Annotated[str, Field(pattern=_DECIMAL)]
Unit = Annotated[str, _OneOf(tuple(UNITS))]
QuantityName = Annotated[str, _OneOf((*QUANTITIES, *PATTERNS))]
Part = Annotated[str, _OneOf(MOVE_PARTS)]
Urgency = Literal["info", "ask", "warn", "stop"]


class _Line(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Sized(_Line):
    """A quantity: a decimal string with its unit."""

    value: DecimalText
    unit: Unit


class _In(_Line):
    at: Annotated[float, Field(description="Seconds on a clock that the caller owns; without it, real time.")] | None = None


class SayLine(_In):
    """Words, as a recogniser would hand them over."""

    say: str


class AudioLine(_In):
    """A clip, through the real recogniser."""

    audio: Annotated[str, Field(description="The path of a WAV.")]


class Gauge(_Line):
    """A settled reading that was taken. Its unit may be written in any spelling that is known."""

    channel: Annotated[str, _OneOf(CHANNELS)]
    value: DecimalText
    unit: str


class GaugeLine(_In):
    """A reading of a gauge."""

    gauge: Gauge


class PedalLine(_In):
    """The foot pedal."""

    pedal: Literal["press"]


class QuitLine(_In):
    """Stop now; the job can be resumed."""

    quit: Literal[True]


class LineIn(RootModel[SayLine | AudioLine | GaugeLine | PedalLine | QuitLine]):
    """One line to `benchhand run --headless`."""


class StepBody(_Line):
    id: str
    phase: Annotated[str, _OneOf(PHASES)]
    kind: Annotated[str, _OneOf(KINDS)]
    title: str


class StepLine(_Line):
    """A step begins."""

    step: StepBody


class SpeakLine(_Line):
    """What is said aloud."""

    speak: str
    urgency: Urgency


class CautionBody(_Line):
    id: str
    before: Annotated[str, _OneOf(CAUTION_KINDS)]
    text: str


class CautionLine(_Line):
    """Has to be accepted before the step that it guards is shown."""

    caution: CautionBody


class RecordedBody(_Line):
    id: str
    quantity: QuantityName
    value: Annotated[str, Field(description="A decimal as sent, or the words of a pattern.")]
    unit: Unit | None
    spot: int | None
    part: str | None
    replaces: str | None
    replayed: Literal[True] | None = None


class RecordedLine(_Line):
    """A reading that is on disk."""

    recorded: RecordedBody


class Expect(_Line):
    quantity: QuantityName
    value: DecimalText
    low: DecimalText
    high: DecimalText
    unit: Unit


class MoveBody(_Line):
    group: str
    part: Part
    from_: Annotated[Sized, Field(alias="from")]
    to: Sized
    change: Sized
    stack: list[Sized]
    expect: Expect | None
    chance: DecimalText | None
    why: str


class MoveLine(_Line):
    """A change to make when "done" is said next; those of one group belong together."""

    move: MoveBody


class Likely(_Line):
    cause: str
    odds: DecimalText
    check: str


class AlarmBody(_Line):
    id: str
    text: str
    evidence: list[str]
    likely: list[Likely]


class AlarmLine(_Line):
    """Something does not add up; the step stays until it is answered."""

    alarm: AlarmBody


class Spot(_Line):
    index: Annotated[int, Field(ge=1)]
    of: Annotated[int, Field(ge=1)]
    degrees: float


class Predicted(_Line):
    value: DecimalText
    spread: DecimalText


class WaitBody(_Line):
    for_: Annotated[Literal["reading", "confirm", "done", "choice", "caution"], Field(alias="for")]
    quantity: QuantityName | None = None
    part: str | None = None
    unit: Unit | None = None
    spot: Spot | None = None
    value: Sized | str | None = None
    choices: list[str] | None = None
    commands: list[str]
    predicted: Predicted | None = None


class WaitLine(_Line):
    """What is waited for now; it ends a batch."""

    wait: WaitBody


class EndBody(_Line):
    verdict: Literal["in spec", "out of spec", "stopped"]
    job: str
    failed: list[str]


class EndLine(_Line):
    """The job is over, or rests; it ends a batch."""

    end: EndBody


class ErrorBody(_Line):
    line: int | None = None
    text: str


class ErrorLine(_Line):
    """That input was not understood or is impossible; nothing changed."""

    error: ErrorBody


class LineOut(RootModel[StepLine | SpeakLine | CautionLine | RecordedLine | MoveLine | AlarmLine | WaitLine | EndLine | ErrorLine]):
    """One line from `benchhand run --headless`."""


# ---- the doors of the screen


class Say(_Line):
    """POST /say"""

    words: Annotated[str, Field(min_length=1, max_length=300)]
    at: Annotated[str, Field(description="The name of the state that the page shows.")]


class Pedal(_Line):
    """POST /pedal"""

    at: str


class GaugeTaken(Gauge):
    """POST /gauge"""

    at: str


class Enter(_Line):
    """POST /enter"""

    key: str


class Doors(RootModel[Say | Pedal | GaugeTaken | Enter]):
    """What the doors of the screen take, each as a JSON object."""


# ---- schemas


class _Exact(GenerateJsonSchema):
    """A figure of a job file is a decimal in quotes or a whole number, never a float."""

    def decimal_schema(self, schema: core_schema.DecimalSchema) -> Schema:
        del schema
        return {"anyOf": [{"type": "string", "pattern": _DECIMAL}, {"type": "integer"}]}


Model = TypeVar("Model", bound=BaseModel)


def _of_model(model: type[BaseModel]) -> Schema:
    return {"$schema": DRAFT, **model.model_json_schema(by_alias=True, schema_generator=_Exact)}


def job_file() -> Schema:
    """A job file, TOML read as JSON; its [spec] with every quantity by its name."""
    limits: dict[str, Any] = {name: (LimitsTable | None, None) for name in QUANTITIES if name != "pinion_depth"}
    spec = create_model(
        "Spec", __config__=ConfigDict(extra="forbid"), __doc__="[spec]: what the manual allows.", **limits,
        pinion_depth=(DepthTable | None, None), carrier_preload=(PreloadTable | None, None),
        backlash_spots=(Annotated[int, Field(ge=3, le=16)], 3),
    )  # fmt: skip
    whole = create_model("JobFile", __base__=JobFile, __doc__=JobFile.__doc__, spec=(spec | None, None))
    return _of_model(whole)


def journal_line() -> Schema:
    """A line of a journal: where it stands, and one event, each kind with its version and its fields."""
    definitions: dict[str, Schema] = {}
    kinds = [_of_event(kind, definitions) for kind in events.KINDS.values()]
    return {"$schema": DRAFT, "title": "JournalLine", "description": "One line of JOB-ID.jsonl.", "oneOf": kinds, "$defs": definitions}


def _of_event(kind: type[Any], definitions: dict[str, Schema]) -> Schema:
    fixed: Schema = {
        "batch": {"type": "integer", "minimum": 1},
        "last": {"type": "boolean"},
        "at": {"type": "string"},
        "event": {"const": kind.__name__},
        "v": {"const": kind.version},
    }
    own = _of_fields(kind, definitions)
    return {
        "title": kind.__name__,
        "description": " ".join((kind.__doc__ or "").split()),
        "type": "object",
        "properties": {**fixed, **own},
        "required": [*fixed, *own],
        "additionalProperties": False,
    }


def _of_fields(kind: type[Any], definitions: dict[str, Schema]) -> dict[str, Schema]:
    hints = get_type_hints(kind)
    return {field.name: _of_type(hints[field.name], definitions) for field in dataclasses.fields(kind)}


def _of_type(kind: Any, definitions: dict[str, Schema]) -> Schema:
    """As `events.to_json` writes a value of this type."""
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        return {"anyOf": [_of_type(option, definitions) for option in get_args(kind)]}
    if origin is tuple:
        options = get_args(kind)
        if options[-1] is Ellipsis:
            return {"type": "array", "items": _of_type(options[0], definitions)}
        return {"type": "array", "prefixItems": [_of_type(option, definitions) for option in options], "items": False}
    if kind is Quantity:
        definitions["Quantity"] = {
            "type": "object",
            "properties": {"value": {"type": "string", "pattern": _DECIMAL}, "unit": {"enum": list(UNITS)}},
            "required": ["value", "unit"],
            "additionalProperties": False,
        }
        return {"$ref": "#/$defs/Quantity"}
    plain = {str: "string", int: "integer", bool: "boolean", float: "number", NoneType: "null"}
    if kind in plain:
        return {"type": plain[kind]}
    if kind is Decimal:
        return {"type": "string", "pattern": _DECIMAL}
    name = kind.__name__
    if name not in definitions:
        definitions[name] = {}
        fields = _of_fields(kind, definitions)
        definitions[name] |= {"type": "object", "properties": fields, "required": list(fields), "additionalProperties": False}
    return {"$ref": f"#/$defs/{name}"}


def listed_job() -> Schema:
    """A line of `benchhand jobs list --json`."""
    definitions: dict[str, Schema] = {}
    fields = _of_fields(Summary, definitions)
    return {
        "$schema": DRAFT, "title": "ListedJob", "description": "A line of `benchhand jobs list --json`.", "type": "object",
        "properties": fields, "required": list(fields), "additionalProperties": False,
    }  # fmt: skip


def schemas() -> dict[str, Schema]:
    """Every schema by the name of its file."""
    return {
        "board": _of_model(Told),
        "job-file": job_file(),
        "journal-line": journal_line(),
        "line-in": _of_model(LineIn),
        "line-out": _of_model(LineOut),
        "listed-job": listed_job(),
        "screen-doors": _of_model(Doors),
    }


def text_of(schema: Schema) -> str:
    """As it stands in its file."""
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def main(folder: Path) -> None:
    """Write every schema into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, schema in schemas().items():
        (folder / f"{name}.json").write_text(text_of(schema), encoding="utf-8")


if __name__ == "__main__":
    import typer

    typer.run(main)
