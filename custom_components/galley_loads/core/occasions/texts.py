"""The words of the alerts, for a cook who is tired and has wet hands.

Each function returns a title and a message. Names come from the user and from other
integrations, so they are made harmless first: one line, no markup, of sensible length.
"""

from collections.abc import Mapping
from typing import Final
from zoneinfo import ZoneInfo

from ..advice.words import ampere_hours, clock, duration
from ..cutting import Trouble
from .circuit_occurrences import ASKED
from .load_limits import BREAKER, INVERTER
from .occurrence import Fact, Occurrence, OccurrenceKind
from .run_occurrences import KEEPS_WARM
from .timers import TimerState

_LONGEST_NAME: Final = 40
_UNWANTED: Final = frozenset("<>{}[]`\\|*_#~")

type Text = tuple[str, str]


def words(occurrence: Occurrence, time_zone: ZoneInfo) -> Text:
    """Return the title and the message about an occurrence; `time_zone` is the boat's.

    Raises:
        ValueError: nobody is sent a message about its kind.
    """
    subject, variant = occurrence.subject, occurrence.variant
    number, maybe = occurrence.number, occurrence.maybe
    match occurrence.kind:
        case OccurrenceKind.STANDBY_LEFT_ON:
            return standby_left_on(
                subject,
                number("idle_s"),
                maybe("standby_w"),
                maybe("day_ah"),
                asks=variant == ASKED,
            )
        case OccurrenceKind.FINISHED:
            warm = variant == KEEPS_WARM
            return finished(subject, number("run_s"), keeps_warm=warm)
        case OccurrenceKind.AT_TEMPERATURE:
            return at_temperature(subject, number("run_s"))
        case OccurrenceKind.TIMER_OVER:
            minutes = number("minutes")
            if variant == TimerState.STOPPED:
                return timer_stopped(subject, number("done_minutes"), minutes)
            return timer_over(subject, minutes)
        case OccurrenceKind.LEFT_RUNNING:
            return left_running(subject, number("run_s"), maybe("usual_s"))
        case OccurrenceKind.MEAL_FINISHED:
            return meal_finished(
                subject,
                number("bank_ah"),
                number("bank_share"),
                maybe("sun_share"),
                maybe("expected_ah"),
            )
        case OccurrenceKind.RESERVE_AT_RISK:
            when = clock(number("lowest_at_s"), number("seen_s"), time_zone)
            return reserve_at_risk(
                occurrence.names("names"),
                number("lowest_soc"),
                when,
                number("reserve_soc"),
            )
        case OccurrenceKind.OVERLOAD_NEAR:
            what = {
                INVERTER: "The inverter",
                BREAKER: f"The breaker of {plain(occurrence.text('circuit') or '')}",
            }.get(variant, "The bank's current")
            return overload_near(what, overload_advice(occurrence.facts))
        case OccurrenceKind.SUN_GONE:
            return sun_gone(
                occurrence.names("names"), number("solar_w"), number("before_w")
            )
        case OccurrenceKind.READINGS_LOST:
            return readings_lost(occurrence.names("names"), number("lost_s"))
        case OccurrenceKind.CUT_FAILED:
            silent = variant == Trouble.RELAY_DID_NOT_OPEN
            return cut_failed(subject, relay_silent=silent)
        case _:
            raise ValueError(f"no message is sent about {occurrence.kind.value}")


def plain(name: str) -> str:
    """Return a name that is safe to put into a message of any receiver."""
    kept = "".join(
        " " if ch in _UNWANTED or not ch.isprintable() else ch for ch in name
    )
    words = " ".join(kept.split())
    if len(words) > _LONGEST_NAME:
        words = words[: _LONGEST_NAME - 1].rstrip() + "…"
    return words or "unnamed"


def standby_left_on(
    circuit: str,
    idle_s: float,
    standby_w: float | None,
    night_ah: float | None,
    *,
    asks: bool,
) -> Text:
    """Return the words for a circuit that stands idle but live."""
    name = plain(circuit)
    message = f"Nobody has cooked on {name} for {duration(idle_s)}."
    if standby_w is not None:
        message += f" It still draws {standby_w:.0f} W"
        if night_ah is not None:
            message += f", {ampere_hours(night_ah)} by this time tomorrow"
        message += "."
    if asks:
        message += " Switch it off?"
    return f"{name} is still on", message


def finished(appliance: str, run_s: float, *, keeps_warm: bool) -> Text:
    """Return the words for an appliance that is done."""
    name = plain(appliance)
    message = f"It took {duration(run_s)}."
    if keeps_warm:
        message += " It keeps warm now."
    return f"{name} is done", message


def at_temperature(appliance: str, heating_s: float) -> Text:
    """Return the words for an oven or a bath that is hot."""
    return (
        f"{plain(appliance)} is at temperature",
        f"It took {duration(heating_s)} to heat up.",
    )


def timer_over(appliance: str, minutes: float) -> Text:
    """Return the words for a timer that has run out."""
    return (
        f"{plain(appliance)}: time is up",
        f"{minutes:.0f} min at temperature are over.",
    )


def timer_stopped(appliance: str, done_min: float, minutes: float) -> Text:
    """Return the words for an appliance that went off before its timer was over."""
    return (
        f"{plain(appliance)} went off early",
        f"It has been at temperature for {done_min:.0f} of {minutes:.0f} min.",
    )


def left_running(appliance: str, run_s: float, usual_s: float | None) -> Text:
    """Return the words for an appliance that runs longer than it ever does."""
    name = plain(appliance)
    message = f"It has been on for {duration(run_s)}."
    if usual_s is not None:
        message += f" Mostly it is off after {duration(usual_s)}."
    return f"{name} is still running", f"{message} Please have a look."


def meal_finished(
    label: str,
    bank_ah: float,
    bank_share: float,
    solar_share: float | None,
    expected_ah: float | None,
) -> Text:
    """Return the words for a meal that is over."""
    message = f"It took {ampere_hours(bank_ah)}, {100 * bank_share:.0f} % of the bank."
    if solar_share is not None:
        message += f" {100 * solar_share:.0f} % of it came from the sun."
    if expected_ah is not None:
        message += f" The guess was {ampere_hours(expected_ah)}."
    return f"{plain(label).capitalize()} is done", message


def reserve_at_risk(
    names: list[str], lowest_soc: float, clock: str, reserve_soc: float
) -> Text:
    """Return the words for a bank that will not last until the morning."""
    cooking = _listed(names) or "what is cooking"
    return (
        "The bank may not last the night",
        f"With {cooking} on, it falls to about {max(lowest_soc, 0.0):.0f} % by {clock}. "
        f"Your reserve is {reserve_soc:.0f} %.",
    )


def overload_near(what: str, advice: str) -> Text:
    """Return the words for a load that comes close to a limit."""
    return f"{what} is near its limit", advice


def overload_advice(facts: Mapping[str, Fact]) -> str:
    """Return what is used of a limit, and what to turn off, by the facts of either."""
    unit, stop = facts["unit"], facts.get("stop")
    message = f"{facts['used']:,.0f} {unit} of {facts['limit']:,.0f} {unit}."
    if isinstance(stop, str):
        message += f" Turn off {plain(stop)} first."
    return message


def sun_gone(names: list[str], solar_w: float, before_w: float) -> Text:
    """Return the words for a sun that went away while cooking on it."""
    cooking = _listed(names) or "Cooking"
    verb = "runs" if len(names) <= 1 else "run"
    return (
        "The sun is gone",
        f"It gives {solar_w:.0f} W now, {before_w:.0f} W before. "
        f"{cooking} {verb} off the bank.",
    )


def readings_lost(names: list[str], since_s: float) -> Text:
    """Return the words for a load that is no longer measured while something was on."""
    cooking = _listed(names) or "Something"
    verb = "was" if len(names) <= 1 else "were"
    return (
        "I cannot see the galley",
        f"The boat's load has not been measured for {duration(since_s)}. "
        f"{cooking} {verb} on. Please check by eye.",
    )


def cut_failed(circuit: str, *, relay_silent: bool) -> Text:
    """Return the words for a cut that did not take effect."""
    name = plain(circuit)
    if relay_silent:
        message = "I told its relay to open, but it did not. I will not try again."
    else:
        message = (
            "Its relay says open, but the draw did not fall. The contact may be stuck. "
            "I will not try again."
        )
    return f"{name} may still be on", message


def _listed(names: list[str]) -> str:
    shown = [plain(name) for name in names]
    if len(shown) <= 1:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} and {shown[-1]}"
