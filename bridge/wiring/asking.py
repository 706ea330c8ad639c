"""One question at a time that takes longer to answer than the sound can wait, answered beside it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Generic, Self, TypeVar

_Answer = TypeVar("_Answer")


class Asking(Generic[_Answer]):
    """Answers questions in a thread of its own; a context manager that waits for the last one when left.

    With ``patient``, for sound that waits, an answer is there as soon as it is asked for, so that the same sound is
    always heard alike. What a question raises is raised by :meth:`answer`.
    """

    def __init__(self, *, patient: bool) -> None:
        self._patient = patient
        self._thread = ThreadPoolExecutor(1, "reedwire-asking")
        self._asked: Future[_Answer] | None = None

    @property
    def busy(self) -> bool:
        """Whether a question has been asked whose answer was not fetched yet."""
        return self._asked is not None

    def ask(self, question: Callable[[], _Answer]) -> None:
        """Begin to answer; only while not ``busy``."""
        self._asked = self._thread.submit(question)

    def answer(self) -> _Answer | None:
        """The answer, once, or None where there is none yet."""
        asked = self._asked
        if asked is None or not (self._patient or asked.done()):
            return None
        self._asked = None
        return asked.result()

    def __enter__(self) -> Self:
        """Nothing runs before the first question."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let the thread end."""
        self._thread.shutdown()
