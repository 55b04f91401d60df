"""What the cook wants of an appliance this time."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Task:
    """One use of an appliance; what is None the appliance draws for itself.

    `minutes` is what the cook would say: minutes of simmering, of baking after the
    preheating, of holding at temperature, on the timer. `keep_warm_minutes` follow it. `level`
    is the share of full power at which something is left to simmer.
    """

    litres: float | None = None
    minutes: float | None = None
    celsius: float | None = None
    keep_warm_minutes: float | None = None
    way: str | None = None
    level: float | None = None
