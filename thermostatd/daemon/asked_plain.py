"""Requests as JSON and back, by the names of asking.py and of the house's tables.

ValueError for what has no JSON form here, and for a name that is no request.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any, cast

from pydantic import BaseModel

from thermostatd.core import asking
from thermostatd.core import house as tables
from thermostatd.core.asking import Request, Until


def plain_request(request: Request) -> dict[str, Any]:
    """A request as JSON-able values."""
    told = {field.name: _plain(getattr(request, field.name)) for field in fields(request)}
    return {"kind": type(request).__name__} | {key: value for key, value in told.items() if value is not None}


def request_of(plain: Mapping[str, Any]) -> Request:
    """The request of `plain_request`."""
    kind = getattr(asking, str(plain.get("kind")), None)
    if not (isinstance(kind, type) and is_dataclass(kind)):
        raise ValueError(f"{plain.get('kind')!r:.40} is no request that this program knows")
    told = {key: _value(value) for key, value in plain.items() if key != "kind"}
    return cast(Request, kind(**({field.name: None for field in fields(kind)} | told)))


def _plain(value: object) -> Any:
    match value:
        case None | str() | bool() | int() | float():
            return value
        case datetime():
            return {"time": value.isoformat()}
        case Until():
            return {"until": value.value}
        case type():
            return {"type": value.__name__}
        case BaseModel():
            return {"table": type(value).__name__, "is": value.model_dump(mode="json", by_alias=True)}
        case tuple() | list():
            return [_plain(one) for one in value]
    raise ValueError(f"a {type(value).__name__} has no form on disk")


def _value(plain: Any) -> Any:
    match plain:
        case {"time": str(iso)}:
            return datetime.fromisoformat(iso)
        case {"until": str(word)}:
            return Until(word)
        case {"type": str(name)}:
            return getattr(asking, name)
        case {"table": str(name), "is": dict(table)}:
            return cast(type[BaseModel], getattr(tables, name)).model_validate(table)
        case list():
            return tuple(_value(one) for one in plain)
    return plain
