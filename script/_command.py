"""What the commands for a terminal share: arguments, one-line errors, progress."""

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
import io
import json
import os
from pathlib import Path
import sys
import time
from typing import Any, NoReturn, override

from _core import core, language

BAD_INPUT = 2
INTERRUPTED = 130


class InputError(Exception):
    """Bad input; its text is the one line that is shown."""


class Arguments(argparse.ArgumentParser):
    """A parser of arguments whose errors are one line."""

    @override
    def error(self, message: str) -> NoReturn:
        raise InputError(" ".join(f"{message} (see --help)".split()))


def run(name: str, command: Callable[[], None]) -> NoReturn:
    """Run a command; bad input ends it with one line and exit status 2."""
    status = 0
    # A terminal that lacks a letter of a boat's name is shown the rest all the same.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")
    try:
        command()
        sys.stdout.flush()
    except InputError as error:
        # A file's name may hold a line end; the message is one line all the same.
        print(f"{name}: {' '.join(str(error).splitlines())}", file=sys.stderr)
        status = BAD_INPUT
    except KeyboardInterrupt:
        status = INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has seen enough.
        _drop_output()
    except OSError as error:
        print(f"{name}: {error.strerror or error}", file=sys.stderr)
        status = BAD_INPUT
        _drop_output()
    sys.exit(status)


def _drop_output() -> None:
    """Let what could not be printed vanish, or the interpreter tries again at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Turn whatever is wrong with a file into one line that starts with its name."""
    try:
        yield
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}") from None
    except ValueError as error:
        raise InputError(f"{path}: {said(error)}") from None


def said(error: ValueError) -> str:
    """Return what is wrong as a sentence."""
    if isinstance(error, core("phrase").PhrasedError):
        return str(language("speech").english().say(error.phrase))
    return str(error)


def read_boat(path: Path) -> Any:
    """Return the boat of a boat file."""
    with reading(path):
        return core("boat.boat_file").read_boat(path)


def read_history(
    path: Path, boat: Any, progress: Callable[[int, int], None] | None
) -> Iterator[Any]:
    """Yield the readings of a history that the boat's load is made of."""
    with reading(path):
        entity_ids = core("metering.source").entity_ids_of(boat)
        yield from core("replay.history_file").read_history(path, entity_ids, progress)


def check_writable(path: Path | None, *inputs: Path, option: str = "--json") -> None:
    """Say before long work, not after it, that its result cannot be written.

    A result never takes the place of one of the inputs.
    """
    if path is None:
        return
    folder = path.absolute().parent
    if path.is_dir() or not folder.is_dir():
        raise InputError(f"{option}: {path} is not a file in a folder that exists")
    if not os.access(path if path.exists() else folder, os.W_OK):
        raise InputError(f"{option}: {path}: not allowed to write there")
    for given in inputs:
        if path.exists() and given.exists() and path.samefile(given):
            raise InputError(
                f"{option}: {path} is what is read; needed is another file"
            )


def tell(text: str, path: Path | None, content: dict[str, Any]) -> None:
    """Write a result and print it; neither fails for the other's sake."""
    try:
        write_json(path, content)
    finally:
        print(text, end="")


def write_json(path: Path | None, content: dict[str, Any]) -> None:
    """Write a result: into a file whole or not at all, into a pipe or device as it is."""
    if path is None:
        return
    text = json.dumps(content, indent=1, ensure_ascii=False) + "\n"
    try:
        if path.exists() and not path.is_file():
            path.write_text(text, encoding="utf-8")
        else:
            _replace(path.resolve(), text)
    except OSError as error:
        raise InputError(f"--json: {path}: {error.strerror or error}") from None


def _replace(path: Path, text: str) -> None:
    part = path.with_name(f".{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


class Progress:
    """How far a long reading is, on a terminal only."""

    def __init__(self, name: str) -> None:
        """Write on standard error, if that is a terminal."""
        self._name = name
        self._shows = sys.stderr.isatty()
        self._next_s = 0.0

    @property
    def callback(self) -> Callable[[int, int], None] | None:
        """What to call with done and total; None where nobody looks."""
        return self._show if self._shows else None

    def _show(self, done: int, total: int) -> None:
        now_s = time.monotonic()
        if now_s < self._next_s:
            return
        self._next_s = now_s + 0.1
        share = done / total if total else 1.0
        bar = "#" * round(30 * share)
        print(f"\r{self._name}: [{bar:30}] {share:4.0%}", end="", file=sys.stderr)

    def clear(self) -> None:
        """Take the line away."""
        if self._shows:
            print("\r\033[K", end="", file=sys.stderr, flush=True)
