"""A session over lines of JSON: each question is one object, each reply one line. A front end that needs no other code."""

from __future__ import annotations

import json
from collections.abc import Callable

from pydantic import ValidationError

from advisor.errors import short
from advisor.model.question import Ended, Question, Reply
from advisor.session.session import Session

HINT = 'Send one line for each question, such as {"answer": "1"}.'


def object_of(value: Question | Ended) -> str:
    """One line of JSON, without a newline."""
    return json.dumps(value.model_dump(mode="json", by_alias=True), ensure_ascii=False)


def converse(
    session: Session, write: Callable[[str], None], read: Callable[[], str | None], case: Callable[[], str | None]
) -> None:
    """Plays a session to its end. `read` gives None when no reply is left: the session pauses. `case` names the case."""
    while (question := session.asked()) is not None:
        write(object_of(question))
        line = read()
        if line is None:
            session.pause()
            break
        try:
            session.answer(reply(line).answer)
        except ValueError as error:
            session.refused(str(error), HINT)
    write(object_of(session.ended(case())))


def reply(line: str) -> Reply:
    """The reply in one line; a bare string or number stands for its answer. Raises ValueError that says what is wrong."""
    try:
        value = json.loads(line)
    except ValueError:
        raise ValueError(f"'{short(line)}' is not JSON") from None
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        value = {"answer": str(value)}
    try:
        return Reply.model_validate(value)
    except ValidationError:
        raise ValueError(f"'{short(line)}' has no answer, or more than that") from None
