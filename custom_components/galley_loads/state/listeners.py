"""One way to be told of something: subscribe, and unsubscribe by what that returned."""

from collections.abc import Callable
from contextlib import suppress

from homeassistant.core import CALLBACK_TYPE, callback


class Listeners[**P]:
    """Those who are called when something happens, in the order in which they came."""

    def __init__(self) -> None:
        """Start with nobody."""
        self._listeners: list[Callable[P, object]] = []

    @callback
    def async_add(self, listener: Callable[P, object]) -> CALLBACK_TYPE:
        """Call `listener` from now on, until the returned function is called."""
        self._listeners.append(listener)

        @callback
        def unsubscribe() -> None:
            with suppress(ValueError):
                self._listeners.remove(listener)

        return unsubscribe

    @callback
    def async_notify(self, *args: P.args, **kwargs: P.kwargs) -> None:
        """Call all; who comes or goes meanwhile counts from the next time on."""
        for listener in tuple(self._listeners):
            listener(*args, **kwargs)
