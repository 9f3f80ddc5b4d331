"""The knowledge in a form that is read quickly, kept in the user's cache folder.

The source is always looked at: a kept form is found only by the digest of every knowledge file and of the program that
read them, so that a change of either makes a new one. It is a line of JSON for each field, and the same models check it that
check the YAML: a changed file can hold other texts, but can never run anything. A file that does not pass is made anew
without a word.

A field is read when it is first asked for: the first question needs a few lines of a hundred, and the rest is there when the
technician has read it.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any, cast

from pydantic import PrivateAttr, TypeAdapter, ValidationError

from advisor.errors import KnowledgeError
from advisor.model.knowledge import Knowledge
from advisor.store.kept import keep, kept_file, read_kept

KIND = "knowledge"
FIELDS = Knowledge.model_fields


def compiled(folder: Path | None, digest: str, reading: str, make: Callable[[], Knowledge]) -> Knowledge:
    """The knowledge with this digest, from its kept form or made anew. Raises what `make` raises.

    `reading` is the digest of the program that reads. A cache that cannot be read or written changes nothing but the time.
    """
    if folder is None:
        return make()
    file = kept_file(folder, KIND, digest, reading)
    lines = _lines(file)
    if lines is not None and lines["digest"] == f'"{digest}"'.encode():
        return _Kept.of(_Lines(lines, digest, make))
    knowledge = make()
    if knowledge.digest == digest:  # no file was changed while it was read
        _keep(file, knowledge)
    return knowledge


class _Lines:
    """The lines of a kept form, and the fields that were read of them; each is read once."""

    def __init__(self, lines: dict[str, bytes], digest: str, make: Callable[[], Knowledge]) -> None:
        self._lines, self._digest, self._make = lines, digest, make
        self._found: dict[str, Any] = {}
        self._lock = RLock()  # one thread may read ahead while another one asks

    def field(self, name: str) -> Any:
        """A field. One that does not pass is read from its source, and so is every later one."""
        with self._lock:
            if name not in self._found:
                try:
                    self._found[name] = _adapter(name).validate_json(self._lines[name])
                except ValidationError:
                    made = self._make()
                    if made.digest != self._digest:
                        raise KnowledgeError("the knowledge was changed while it was read", "Start the command again.") from None
                    self._found = {field: getattr(made, field) for field in FIELDS} | self._found
            return self._found[name]


class _Kept(Knowledge):
    """Knowledge whose fields are read when they are first asked for. Whatever looks at all of it makes it a plain one first."""

    _rest: Any = PrivateAttr(default=None)

    @classmethod
    def of(cls, rest: _Lines) -> Knowledge:
        made = cls.model_construct(set(FIELDS))
        made.__dict__.clear()
        made._rest = rest
        return made

    def _whole(self) -> Knowledge:
        object.__setattr__(self, "__dict__", {name: getattr(self, name) for name in FIELDS})
        object.__setattr__(self, "__pydantic_private__", None)
        object.__setattr__(self, "__class__", Knowledge)
        return self

    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:
            if name not in FIELDS:
                return super().__getattr__(name)
            found = self.__dict__[name] = self._rest.field(name)
            return found


def _made_whole(name: str) -> Callable[..., Any]:
    def method(self: _Kept, *given: Any, **named: Any) -> Any:
        return getattr(self._whole(), name)(*given, **named)

    return method


for _name in (
    "__eq__",
    "__hash__",
    "__iter__",
    "__repr__",
    "__str__",
    "__reduce_ex__",
    "__deepcopy__",
    "model_dump",
    "model_dump_json",
):
    setattr(_Kept, _name, _made_whole(_name))


def _adapter(field: str) -> TypeAdapter[Any]:
    return TypeAdapter(cast(Any, FIELDS[field].annotation))


def _lines(file: Path) -> dict[str, bytes] | None:
    """The line of each field, or None for a form that is missing, damaged or of another shape."""
    text = read_kept(file)
    lines = dict(_named(line) for line in text.split(b"\n")) if text is not None else {}
    return lines if lines.keys() == FIELDS.keys() else None


def _named(line: bytes) -> tuple[str, bytes]:
    name, _, value = line.partition(b" ")
    return name.decode("ascii", "replace"), value


def _keep(file: Path, knowledge: Knowledge) -> None:
    """Writes the form if it reads back as the same knowledge."""
    lines = {name: _adapter(name).dump_json(getattr(knowledge, name), by_alias=True) for name in FIELDS}
    nothing = Knowledge.model_construct(digest="")  # where a line does not pass, there is nothing else to read it from
    with suppress(KnowledgeError):
        if _Kept.of(_Lines(lines, knowledge.digest, lambda: nothing)) != knowledge:
            return
        keep(file, b"\n".join(name.encode() + b" " + line for name, line in lines.items()))
