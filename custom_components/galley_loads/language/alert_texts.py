"""What the messages say, for a cook who is tired and has wet hands.

Each function returns a title and a message as phrases. Names come from the user and from
other integrations, so they are made harmless first: one line, no markup, of sensible
length.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from ..core.cutting import Trouble
from ..core.meals.meal_label import label_as_said
from ..core.occasions.circuit_occurrences import ASKED
from ..core.occasions.load_limits import BREAKER, INVERTER
from ..core.occasions.occurrence import Fact, Occurrence, OccurrenceKind
from ..core.occasions.run_occurrences import KEEPS_WARM
from ..core.occasions.timers import TimerState
from ..core.phrase import Phrase, phrase
from .speech import Speech

_LONGEST_NAME: Final = 40
_UNWANTED: Final = frozenset("<>{}[]`\\|*_#~")

type Text = tuple[Phrase, Phrase]


def words(occurrence: Occurrence, speech: Speech) -> tuple[str, str]:
    """Return the title and the message about an occurrence.

    Raises:
        ValueError: nobody is sent a message about its kind.
    """
    title, message = text_of(occurrence)
    return speech.say(title), speech.say(message)


def text_of(occurrence: Occurrence) -> Text:
    """Return the title and the message about an occurrence as phrases.

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
            return reserve_at_risk(
                occurrence.names("names"),
                number("lowest_soc"),
                number("lowest_at_s"),
                number("seen_s"),
                number("reserve_soc"),
            )
        case OccurrenceKind.OVERLOAD_NEAR:
            circuit = occurrence.text("circuit") or ""
            return _near_limit(variant, circuit), overload_advice(occurrence.facts)
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


def plain(name: str) -> str | Phrase:
    """Return a name that is safe to put into a message of any receiver."""
    kept = "".join(
        " " if ch in _UNWANTED or not ch.isprintable() else ch for ch in name
    )
    words = " ".join(kept.split())
    if len(words) > _LONGEST_NAME:
        words = words[: _LONGEST_NAME - 1].rstrip() + "…"
    return words or phrase("alert.unnamed")


def _sentences(*sentences: Phrase) -> Phrase:
    return phrase("alert.sentences", sentences=sentences)


def standby_left_on(
    circuit: str,
    idle_s: float,
    standby_w: float | None,
    night_ah: float | None,
    *,
    asks: bool,
) -> Text:
    """Return the text for a circuit that stands idle but live."""
    name = plain(circuit)
    message = [phrase("alert.nobody_cooked", circuit=name, idle_s=idle_s)]
    if standby_w is not None and night_ah is not None:
        message.append(
            phrase("alert.still_draws_a_day", standby_w=standby_w, day_ah=night_ah)
        )
    elif standby_w is not None:
        message.append(phrase("alert.still_draws", standby_w=standby_w))
    if asks:
        message.append(phrase("alert.switch_it_off"))
    return phrase("alert.still_on", circuit=name), _sentences(*message)


def finished(appliance: str, run_s: float, *, keeps_warm: bool) -> Text:
    """Return the text for an appliance that is done."""
    message = [phrase("alert.it_took", run_s=run_s)]
    if keeps_warm:
        message.append(phrase("alert.keeps_warm"))
    return phrase("alert.done", appliance=plain(appliance)), _sentences(*message)


def at_temperature(appliance: str, heating_s: float) -> Text:
    """Return the text for an oven or a bath that is hot."""
    return (
        phrase("alert.at_temperature", appliance=plain(appliance)),
        phrase("alert.heated_in", heating_s=heating_s),
    )


def timer_over(appliance: str, minutes: float) -> Text:
    """Return the text for a timer that has run out."""
    return (
        phrase("alert.time_is_up", appliance=plain(appliance)),
        phrase("alert.minutes_over", minutes=minutes),
    )


def timer_stopped(appliance: str, done_min: float, minutes: float) -> Text:
    """Return the text for an appliance that went off before its timer was over."""
    return (
        phrase("alert.off_early", appliance=plain(appliance)),
        phrase("alert.minutes_done", done_minutes=done_min, minutes=minutes),
    )


def left_running(appliance: str, run_s: float, usual_s: float | None) -> Text:
    """Return the text for an appliance that runs longer than it ever does."""
    message = [phrase("alert.on_for", run_s=run_s)]
    if usual_s is not None:
        message.append(phrase("alert.mostly_off_after", usual_s=usual_s))
    message.append(phrase("alert.have_a_look"))
    return phrase("alert.still_running", appliance=plain(appliance)), _sentences(
        *message
    )


def meal_finished(
    label: str,
    bank_ah: float,
    bank_share: float,
    solar_share: float | None,
    expected_ah: float | None,
) -> Text:
    """Return the text for a meal that is over."""
    message = [phrase("alert.meal_took", bank_ah=bank_ah, bank_share=bank_share)]
    if solar_share is not None:
        message.append(phrase("alert.from_sun", solar_share=solar_share))
    if expected_ah is not None:
        message.append(phrase("alert.guess_was", expected_ah=expected_ah))
    said = label_as_said(label)
    name = said if isinstance(said, Phrase) else plain(said)
    return phrase("alert.meal_done", meal=name), _sentences(*message)


def reserve_at_risk(
    names: Sequence[str],
    lowest_soc: float,
    lowest_at_s: float,
    now_s: float,
    reserve_soc: float,
) -> Text:
    """Return the text for a bank that will not last until the morning."""
    cooking = _listed(names) or (phrase("alert.what_is_cooking"),)
    return (
        phrase("alert.bank_may_not_last"),
        phrase(
            "alert.falls_to",
            cooking=cooking,
            lowest_soc=max(lowest_soc, 0.0),
            lowest_at_s=lowest_at_s,
            reserve_soc=reserve_soc,
            now_s=now_s,
        ),
    )


def _near_limit(what: str | None, circuit: str) -> Phrase:
    if what == INVERTER:
        return phrase("alert.inverter_near_limit")
    if what == BREAKER:
        return phrase("alert.breaker_near_limit", circuit=plain(circuit))
    return phrase("alert.bank_near_limit")


def overload_advice(facts: Mapping[str, Fact]) -> Phrase:
    """Return what is used of a limit, and what to turn off, by the facts of either."""
    used, limit, stop = facts["used"], facts["limit"], facts.get("stop")
    if not isinstance(used, (int, float)) or not isinstance(limit, (int, float)):
        raise TypeError(f"{used!r} of {limit!r} are no numbers")
    unit = str(facts["unit"])
    message = [phrase("alert.used_of_limit", used=used, limit=limit, unit=unit)]
    if isinstance(stop, str):
        message.append(phrase("alert.turn_off_first", appliance=plain(stop)))
    return _sentences(*message)


def sun_gone(names: Sequence[str], solar_w: float, before_w: float) -> Text:
    """Return the text for a sun that went away while cooking on it."""
    runs = (
        phrase("alert.off_the_bank", appliances=_listed(names), count=len(names))
        if names
        else phrase("alert.cooking_off_the_bank")
    )
    gives = phrase("alert.sun_gives", solar_w=solar_w, before_w=before_w)
    return phrase("alert.sun_gone"), _sentences(gives, runs)


def readings_lost(names: Sequence[str], since_s: float) -> Text:
    """Return the text for a load that is no longer measured while something was on."""
    was_on = (
        phrase("alert.was_on", appliances=_listed(names), count=len(names))
        if names
        else phrase("alert.something_was_on")
    )
    lost = phrase("alert.not_measured", lost_s=since_s)
    return phrase("alert.cannot_see"), _sentences(
        lost, was_on, phrase("alert.check_by_eye")
    )


def cut_failed(circuit: str, *, relay_silent: bool) -> Text:
    """Return the text for a cut that did not take effect."""
    message = (
        phrase("alert.relay_did_not_open")
        if relay_silent
        else phrase("alert.draw_did_not_fall")
    )
    return phrase("alert.may_still_be_on", circuit=plain(circuit)), message


def _listed(names: Sequence[str]) -> tuple[str | Phrase, ...]:
    return tuple(plain(name) for name in names)
