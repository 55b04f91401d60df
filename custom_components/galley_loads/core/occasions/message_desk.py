"""Who says things: each occasion once, one message per subject, none for ever."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any, Final
from zoneinfo import ZoneInfo

from ..boat.quiet_hours import QuietHours
from .occasion import URGENT, AlertKind, Clear, Message, Occasion, Say

_MOST_TOLD: Final = 500


class AlertDesk:
    """Turns the occasions that stand into messages.

    What quiet hours hold back is said when they end, if it still stands then.
    """

    def __init__(
        self,
        time_zone: ZoneInfo,
        kinds: Collection[AlertKind] = frozenset(AlertKind),
        quiet_hours: QuietHours | None = None,
    ) -> None:
        """Say alerts of the chosen kinds; `time_zone` is the boat's."""
        self._time_zone = time_zone
        self._kinds = frozenset(kinds)
        self._quiet_hours = quiet_hours
        self._told: dict[str, None] = {}
        self._shown: dict[str, str] = {}

    def observe(self, at_s: float, standing: Iterable[Occasion]) -> list[Message]:
        """Take all occasions that stand at `at_s`; return the messages to send."""
        quiet = self._quiet_hours is not None and self._quiet_hours.hold(
            at_s, self._time_zone
        )
        messages: list[Message] = []
        still: set[tuple[str, str]] = set()
        for occasion in standing:
            if occasion.kind not in self._kinds:
                continue
            tag, name = occasion.tag, f"{occasion.tag}|{occasion.key}"
            still.add((tag, occasion.key))
            urgent = occasion.kind in URGENT
            if name in self._told or (quiet and not urgent):
                continue
            self._remember(name)
            self._shown[tag] = occasion.key
            messages.append(
                Say(
                    tag,
                    occasion.kind,
                    occasion.subject,
                    occasion.title,
                    occasion.message,
                    urgent,
                    occasion.token,
                )
            )
        for tag, key in list(self._shown.items()):
            if (tag, key) not in still:
                del self._shown[tag]
                messages.append(Clear(tag))
        return messages

    def _remember(self, name: str) -> None:
        self._told[name] = None
        while len(self._told) > _MOST_TOLD:
            del self._told[next(iter(self._told))]

    @property
    def shown(self) -> tuple[str, ...]:
        """The tags of messages that were sent and not taken back."""
        return tuple(self._shown)

    def snapshot(self) -> dict[str, Any]:
        """Return the state as JSON-able data."""
        return {"told": list(self._told), "shown": dict(self._shown)}

    def restore(self, state: Mapping[str, Any]) -> None:
        """Take up a state from `snapshot`."""
        self._told = dict.fromkeys(state["told"])
        self._shown = dict(state["shown"])
