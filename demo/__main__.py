"""`script/demo`: a real Home Assistant with Sandpiper aboard, on this machine only."""

import argparse
from importlib.util import find_spec
import sys

from .process import port_is_free

NEEDED = (
    "homeassistant",
    "aiohttp",
    "hass_frontend",
    "sqlalchemy",
    "yaml",
    "voluptuous",
)


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text}: a port is a number from 1 to 65535")
    return int(text)


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> None:  # type: ignore[override]
        """Say it in one line."""
        print(f"demo: {message}", file=sys.stderr)
        sys.exit(2)


def main() -> int:
    """Run the demo; return its exit status."""
    parser = _Parser(
        prog="script/demo",
        description="Starts a real Home Assistant with the simulated boat Sandpiper.",
    )
    parser.add_argument(
        "--once",
        action="store_true",
        help="print what was found and what runs, stop everything and exit",
    )
    parser.add_argument(
        "--port", type=_port, default=8123, help="port on 127.0.0.1 (default: 8123)"
    )
    arguments = parser.parse_args()
    missing = [name for name in NEEDED if find_spec(name) is None]
    if missing:
        print(
            f"demo: the package {missing[0]} is missing; run script/setup",
            file=sys.stderr,
        )
        return 2
    if not port_is_free(arguments.port):
        print(
            f"demo: port {arguments.port} is in use; choose another one with --port",
            file=sys.stderr,
        )
        return 2
    from .show import show  # noqa: PLC0415 - only once its packages are known to be there

    return show(arguments.port, once=arguments.once)


if __name__ == "__main__":
    sys.exit(main())
