"""What a person is told who asked for a cut that cannot be."""

from collections.abc import Iterable

from homeassistant.exceptions import ServiceValidationError

from ..const import DOMAIN
from ..core.cutting import Cut, Outcome, Refused


def raise_if_refused(circuit: str, outcomes: Iterable[Outcome]) -> None:
    """Raise if a wish to cut did not lead to a cut.

    Raises:
        ServiceValidationError: the cut was refused; says why.
    """
    outcomes = list(outcomes)
    if any(isinstance(outcome, Cut) for outcome in outcomes):
        return
    refused = [outcome for outcome in outcomes if isinstance(outcome, Refused)]
    raise ServiceValidationError(
        translation_domain=DOMAIN,
        translation_key=f"cut_{refused[-1].reason.value}"
        if refused
        else "cut_not_ready",
        translation_placeholders={"circuit": circuit},
    )
