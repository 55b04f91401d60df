"""Changes of the advice on the planned dish."""

from ..advice import Verdict
from .occurrence import Occurrence, OccurrenceKind


class AdviceWatch:
    """Compares the advice on a dish with what it was."""

    def __init__(self) -> None:
        """Start without advice."""
        self._verdict: tuple[str, Verdict] | None = None

    def plan(self) -> None:
        """Take that the crew has planned anew: the next advice is an answer, no change."""
        self._verdict = None

    def advise(
        self, at_s: float, dish: str, verdict: Verdict, certainty: float
    ) -> list[Occurrence]:
        """Take the advice on the planned dish; return a change of it.

        The first advice on a dish is an answer to whoever planned it, no change; and not to
        know for a while is none either.
        """
        before, unknown = self._verdict, verdict is Verdict.UNKNOWN
        if before is None or before[0] != dish:
            self._verdict = None if unknown else (dish, verdict)
            return []
        if unknown or before[1] is verdict:
            return []
        self._verdict = (dish, verdict)
        return [
            Occurrence(
                OccurrenceKind.ADVICE_CHANGED,
                dish,
                f"{at_s:.0f}",
                at_s,
                certainty,
                {"before": before[1].value, "verdict": verdict.value},
                verdict.value,
            )
        ]
