"""Shows the boat: starts the platform, sets her up, tells what was found, stays up."""

import asyncio
from contextlib import suppress
from pathlib import Path
import signal
import sys
import time

from aiohttp import ClientError
import yaml

from . import config_folder, process
from .client import PASSWORD, USER, DemoError, Platform, http_session, wait_until_served
from .report import meal_lines, running_lines, slug
from .sandpiper import APPLIANCES, DESCRIPTION, NAME, PLANNED_DISH
from .sensors import ENTITIES
from .story import PAST_DAYS, tell

BOARD = "galley-board"

COOKING = f"binary_sensor.{slug(NAME)}_cooking"


def say(text: str = "") -> None:
    """Print at once, also where the output is no terminal."""
    print(text, flush=True)


def show(port: int, *, once: bool) -> int:
    """Run the demo; return its exit status."""
    folder = config_folder.REPOSITORY / ".demo" / str(port)
    try:
        return asyncio.run(_show(port, folder, once=once))
    except (DemoError, ClientError, TimeoutError, OSError) as error:
        print(f"demo: {error or type(error).__name__}", file=sys.stderr)
        print(f"demo: more in {folder / 'output.log'}", file=sys.stderr)
        return 1


async def _show(port: int, folder: Path, *, once: bool) -> int:
    ended = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, ended.set)
    say(f"{NAME} lies at anchor; writing her past {PAST_DAYS} days ...")
    states = config_folder.make(folder, port, tell(time.time()))
    say(f"{states} readings recorded; starting Home Assistant ...")
    platform_process = await process.start(folder)
    try:
        shown = asyncio.create_task(_set_up(port, platform_process))
        waiting = asyncio.create_task(ended.wait())
        await asyncio.wait((shown, waiting), return_when=asyncio.FIRST_COMPLETED)
        if not shown.done():
            shown.cancel()
            with suppress(asyncio.CancelledError):
                await shown
            return 1 if once else 0
        shown.result()
        if not once:
            say("Ctrl-C stops everything.")
            gone = asyncio.create_task(platform_process.wait())
            await asyncio.wait((gone, waiting), return_when=asyncio.FIRST_COMPLETED)
            if not ended.is_set():
                raise DemoError("Home Assistant has ended by itself")
        return 0
    finally:
        say("Stopping ...")
        await process.stop(platform_process)


async def _set_up(port: int, platform_process: asyncio.subprocess.Process) -> None:
    address = f"http://127.0.0.1:{port}"
    async with http_session() as session:
        await wait_until_served(session, address, platform_process)
        platform = Platform(session, address)
        await platform.onboard()
        await platform.open_socket()
        try:
            await _aboard(platform)
            say()
            say(f"{NAME} is up:  {address}/{BOARD}")
            say(f"Login:           {USER}  /  {PASSWORD}")
            say()
            await _tell(platform)
        finally:
            await platform.close_socket()


async def _aboard(platform: Platform) -> None:
    """Set the boat up, and let the pages open on her dashboard."""
    await platform.wait_until_running(*(entity.entity_id for entity in ENTITIES))
    await platform.set_up_boat(
        yaml.safe_dump(DESCRIPTION, sort_keys=False, allow_unicode=True)
    )
    await platform.ask(
        "frontend/set_system_data", key="core", value={"default_panel": BOARD}
    )
    await platform.ask(
        "energy/save_prefs",
        device_consumption=[
            {"stat_consumption": f"sensor.{slug(appliance.name)}_energy"}
            for appliance in APPLIANCES
        ],
    )


async def _tell(platform: Platform) -> None:
    meals = await platform.meals_of_the_past()
    await platform.ask(
        "call_service",
        domain="select",
        service="select_option",
        service_data={"option": PLANNED_DISH},
        target={"entity_id": f"select.{slug(NAME)}_planned_dish"},
    )
    say(f"{len(meals)} meals found in the past {PAST_DAYS} days (boat time):")
    for line in meal_lines(meals):
        say(line)
    say()
    say("Running now:")
    for line in running_lines(await platform.wait_until_cooking(COOKING)):
        say(line)
    say()
