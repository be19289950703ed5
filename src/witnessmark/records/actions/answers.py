"""Answers that were relied on are frozen with the act that relied on them."""

import hashlib
from typing import Any

from witnessmark import __version__
from witnessmark.records.actions.saying import canonical
from witnessmark.records.models import Act, Answer, AnswerReliedOn


def inputs_sha256(inputs: dict[str, Any]) -> str:
    """Hash the inputs of an answer; other inputs, other hash."""
    return hashlib.sha256(canonical(inputs).encode()).hexdigest()


def keep_answer(
    kind: str, subject: str, *, inputs: dict[str, Any], result: Any, working: dict[str, Any] | None = None
) -> Answer:
    """Store an answer under its inputs and the version of the code, once."""
    kept, _ = Answer.objects.get_or_create(
        kind=kind,
        subject=subject,
        inputs_sha256=inputs_sha256(inputs),
        code_version=__version__,
        defaults={"inputs": inputs, "result": result, "working": working or {}},
    )
    return kept


def rely_on(act: Act, answer: Answer) -> None:
    """Freeze an answer with the act that relied on it."""
    AnswerReliedOn.objects.create(act=act, answer=answer)
