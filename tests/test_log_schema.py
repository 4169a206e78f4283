"""Every line against the published JSON Schema, checked by the ``jsonschema`` package."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from jsonschema import Draft202012Validator, ValidationError

from companion.job import events as ev
from companion.job.record import Record
from companion.log.line import FORMAT_VERSION, encode
from companion.log.schema import record_schema
from tests.logs import any_event, any_time, invented_job

SCHEMA = record_schema()
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)


def test_the_schema_is_one_of_draft_2020_12() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == Draft202012Validator.META_SCHEMA["$id"]


def test_the_schema_needs_nothing_from_elsewhere() -> None:
    references = [part.split('"')[1] for part in json.dumps(SCHEMA).split('"$ref": ')[1:]]
    assert references
    assert all(reference.startswith("#/$defs/") for reference in references)


def test_every_line_of_a_whole_job_fulfils_it(tmp_path: Path) -> None:
    invented_job(tmp_path, clips=False)
    lines = (tmp_path / "log.jsonl").read_text(encoding="utf-8").splitlines()
    for line in lines:
        VALIDATOR.validate(json.loads(line))
    kinds = {json.loads(line)["kind"] for line in lines}
    # The invented job is to show nearly everything that can happen.
    assert len(kinds) >= 28


@given(event=any_event(), at=any_time())
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_line_that_can_be_written_fulfils_it(event: ev.AnyEvent, at: datetime) -> None:
    VALIDATOR.validate(json.loads(encode(Record(3, at, event), "f" * 64)))


GOOD: dict[str, Any] = {
    "v": 1,
    "seq": 3,
    "at": "2026-03-02T09:15:00+01:00",
    "kind": "level",
    "data": {"heard": None, "fluid": "oil", "level": "full"},
    "prev": "0" * 64,
}


def test_a_good_line_fulfils_it() -> None:
    VALIDATOR.validate(GOOD)


@pytest.mark.parametrize(
    "change",
    [
        {"v": 0},
        {"v": FORMAT_VERSION + 1},
        {"seq": 0},
        {"seq": "3"},
        {"at": "2026-03-02T09:15:00"},
        {"at": "yesterday"},
        {"kind": "smell"},
        {"kind": "reading"},
        {"data": {"fluid": "oil", "level": "enough"}},
        {"data": {"fluid": "oil"}},
        {"data": {"kind": "level", "fluid": "oil", "level": "full"}},
        {"prev": "F" * 64},
        {"more": 1},
    ],
    ids=str,
)
def test_a_wrong_line_does_not(change: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        VALIDATOR.validate({**GOOD, **change})


@pytest.mark.parametrize("key", sorted(GOOD))
def test_no_key_may_be_missing(key: str) -> None:
    with pytest.raises(ValidationError):
        VALIDATOR.validate({name: value for name, value in GOOD.items() if name != key})
