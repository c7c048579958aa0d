"""What a record says, key by key; whoever reads one may rely on it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from review.interface.result import Grade, Verdict


def _moment(text: str) -> str:
    datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ")
    return text


def _day(text: str) -> str:
    date.fromisoformat(text)
    return text


Hash = Annotated[str, Field(pattern=r"\A[0-9a-f]{64}\z")]
Fingerprint = Annotated[str, Field(pattern=r"\ASHA256:[A-Za-z0-9+/]{43}\z")]
Moment = Annotated[str, Field(pattern=r"\A\d{4}-\d\d-\d\dT"), AfterValidator(_moment)]
Day = Annotated[str, Field(pattern=r"\A\d{4}-\d\d-\d\d\z"), AfterValidator(_day)]
Count = Annotated[int, Field(ge=1)]
Number = float | int | Literal["inf", "-inf"] | None


class _Part(BaseModel):
    """Values are what JSON says they are, and what is not listed here may stand beside it."""

    model_config = ConfigDict(strict=True, extra="ignore")


class _Scenario(_Part):
    title: str
    file: str
    sha256: Hash
    text: str


class _Layer(_Part):
    name: str
    sha256: str


class _Band(_Part):
    acceptable: Number = None
    tolerable: Number = None


class _Criterion(_Part):
    id: str
    title: str
    kind: str
    layer: str
    bands: dict[str, _Band] = {}


class _Limit(_Part):
    value: Number = None


class _Ruleset(_Part):
    layers: list[_Layer]
    criteria: list[_Criterion]
    limits: dict[str, _Limit]
    loosened: list[dict[str, Any]]


class _Finding(_Part):
    criterion: str
    kind: str
    at: str
    of: str
    grade: Grade
    status: str
    case: str
    trial: str
    step: str
    value: Number
    unit: str
    limit: Number
    action: str
    basis: str


class _Measure(_Part):
    kind: str
    at: str
    of: str
    unit: str
    status: str
    plan: Number
    worst: Number
    method: str


class _Reviewed(_Part):
    title: str
    sha256: Hash


class _Review(_Part):
    benchgate: str
    scenario: _Reviewed
    verdict: Verdict
    findings: list[_Finding]
    measures: list[_Measure]


class _LookedUp(_Part):
    kind: str
    name: str
    file: str
    sha256: str


class _Tool(_Part):
    benchgate: str
    code: str
    python: str
    libraries: dict[str, str]
    plugins: list[_Layer]


class _Place(_Part):
    id: str
    criterion: str
    at: str
    of: str
    title: str


class _Condition(_Place):
    action: str
    confirmed: str


class _Answer(_Place):
    role: str
    reason: str


class _Attached(_Part):
    name: str
    sha256: Hash


class _Record(_Part):
    number: Count
    previous: Hash | Literal[""]
    signed_at: Moment
    valid_until: Day
    runs: Count
    preparer: str
    reviewer: str
    keys: dict[Literal["preparer", "reviewer"], Fingerprint]
    scenario: _Scenario
    ruleset: _Ruleset
    review: _Review
    data: list[_LookedUp]
    tool: _Tool
    conditions: list[_Condition]
    answers: list[_Answer]
    cautions: list[str]
    attached: list[_Attached] = []


class _Unnamed(_Record):
    """A sign-off without a second person yet, or at all."""

    second: Literal["later", "nobody"]
    reviewer: Literal[""]

    @model_validator(mode="after")
    def _no_key_of_a_reviewer(self) -> Self:
        if "reviewer" in self.keys:
            raise ValueError("keys: nobody reviewed it, but a key of a reviewer signs it")
        return self


class _Of(_Part):
    number: Count
    sha256: Hash


class _Entry(_Part):
    """What is noted about a sign-off."""

    number: Count
    previous: Hash
    signed_at: Moment
    keys: dict[Literal["signer"], Fingerprint]
    of: _Of


class _Countersignature(_Entry):
    keys: dict[Literal["signer"], Fingerprint] = Field(max_length=0)
    statement: str
    signature: str


class _Withdrawal(_Entry):
    by: str
    reason: str


class _Log(_Part):
    file: str
    sha256: Hash
    told: list[str]
    left: bool


class _Run(_Entry):
    by: str
    noted: str
    incident: str
    nevertheless: list[str]
    log: _Log | None


class Statement(_Part):
    """What a second person signs: `of` is the sign-off, `key` the fingerprint or ""."""

    benchgate_countersignature: Literal[1]
    of: _Of
    title: str
    reviewer: str
    compared: str
    signed_at: Moment
    key: Fingerprint | Literal[""]


_SHAPES: dict[str, type[_Part]] = {
    "sign-off": _Unnamed,
    "countersignature": _Countersignature,
    "withdrawal": _Withdrawal,
    "run": _Run,
}


def misshapen(body: dict[str, Any]) -> str:
    """Where a body is not what a record says, and how; "" where it is."""
    shape: type[_Part] = _Record
    if "kind" in body:
        named = _SHAPES.get(str(body["kind"]))
        if named is None:
            return "kind: it is none that a register holds"
        shape = named
    return wrong_in(body, shape)


def wrong_in(body: Any, shape: type[BaseModel]) -> str:
    """Where a body is not of a shape, and how; "" where it is."""
    try:
        shape.model_validate(body)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        return f"{'.'.join(map(str, first['loc']))}: {first['msg']}"
    return ""
