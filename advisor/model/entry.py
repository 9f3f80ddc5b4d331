"""What every model read from a file has in common: frozen, and no key that is not known."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=48)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
Minutes = Annotated[float, Field(ge=0, le=2400)]


class Entry(BaseModel):
    """Base of every model read from a file.

    What checks a model is built when it is first needed: a start needs few of them. So a default that is a model itself is
    made by `model_construct`: to make it in the usual way would build that at once.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, defer_build=True)


def as_list(value: Any) -> Any:
    """A single word as a list of one."""
    return [value] if isinstance(value, str) else value


def one_or_list(*kinds: str) -> WithJsonSchema:
    """The schema of a field that takes one value or a list of them."""
    one = {"type": list(kinds) if len(kinds) > 1 else kinds[0]}
    return WithJsonSchema({"anyOf": [one, {"type": "array", "items": one}]})


Ids = Annotated[tuple[Id, ...], BeforeValidator(as_list), one_or_list("string")]
