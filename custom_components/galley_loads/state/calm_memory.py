"""Long work in a thread without the platform standing still now and then.

Python searches all objects of the process for unreachable ones whenever enough new ones
have come, and holds everything up meanwhile: on a platform with a million objects for a
sixth of a second, on a small board for more than one. Working through weeks of readings
would set it off again and again. While it goes on, what was there before is left out of
the search (`gc.freeze`); afterwards all is as before.
"""

from collections.abc import Iterator
from contextlib import contextmanager
import gc

_working = 0


@contextmanager
def calm_memory() -> Iterator[None]:
    """Keep the search for unreachable objects short. To be used in the event loop."""
    global _working  # noqa: PLW0603 - there is one memory, however many boats
    if not _working:
        gc.freeze()
    _working += 1
    try:
        yield
    finally:
        _working -= 1
        if not _working:
            gc.unfreeze()
