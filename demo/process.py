"""The demo's Home Assistant as a process: started, watched, stopped."""

import asyncio
from contextlib import suppress
import os
from pathlib import Path
import signal
import socket
import sys
from typing import Final

STOP_TIMEOUT_S: Final = 40.0


def port_is_free(port: int) -> bool:
    """Return whether nobody on this machine listens at that port."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


async def start(folder: Path) -> asyncio.subprocess.Process:
    """Start the platform on a configuration folder; its output goes to a log there."""
    # Only this process writes the log, so it may stay open as long as the platform runs.
    log = os.open(folder / "output.log", os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        return await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "homeassistant",
            "--config",
            str(folder),
            "--skip-pip",
            cwd=folder,  # else its custom components would be those of this folder
            stdin=asyncio.subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,  # Ctrl-C is for us: we stop it in order
        )
    finally:
        os.close(log)


async def stop(process: asyncio.subprocess.Process) -> None:
    """Stop the platform in order; kill it if it does not end."""
    if process.returncode is not None:
        return
    with suppress(ProcessLookupError):
        process.send_signal(signal.SIGTERM)
    try:
        async with asyncio.timeout(STOP_TIMEOUT_S):
            await process.wait()
    except TimeoutError:
        with suppress(ProcessLookupError):
            process.kill()
        await process.wait()
