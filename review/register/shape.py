"""What a record says, key by key; whoever reads one may rely on it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

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


class _Criterion(_Part):
    id: str
    title: str
    kind: str
    layer: str


class _Ruleset(_Part):
    layers: list[_Layer]
    criteria: list[_Criterion]
    limits: dict[str, Any]
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


def misshapen(body: dict[str, Any]) -> str:
    """Where a body is not what a record says, and how; "" where it is."""
    try:
        _Record.model_validate(body)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        return f"{'.'.join(map(str, first['loc']))}: {first['msg']}"
    return ""
