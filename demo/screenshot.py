"""`python -m demo.screenshot --port PORT`: the picture of the dashboard for the manual.

The demo has to run. Needs Chromium (`script/setup --browser`).
"""

import argparse
import asyncio
import json
from pathlib import Path
import shutil
import sys
import time
from typing import Any

from aiohttp import ClientSession
from playwright.async_api import async_playwright

from .client import PASSWORD, USER, http_session
from .config_folder import REPOSITORY

PICTURE = REPOSITORY / "docs" / "images" / "dashboard.png"

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


async def sign_in(session: ClientSession, address: str) -> dict[str, Any]:
    """Return the tokens that a page would get for the demo's user."""
    client = {"client_id": address + "/"}
    flow: dict[str, Any] = {
        **client,
        "handler": ["homeassistant", None],
        "redirect_uri": address + "/",
    }
    async with session.post(address + "/auth/login_flow", json=flow) as answer:
        step = await answer.json()
    login = {**client, "username": USER, "password": PASSWORD}
    path = f"{address}/auth/login_flow/{step['flow_id']}"
    async with session.post(path, json=login) as answer:
        step = await answer.json()
    form = {**client, "grant_type": "authorization_code", "code": step["result"]}
    async with session.post(address + "/auth/token", data=form) as answer:
        tokens: dict[str, Any] = await answer.json()
    expires = int(1000 * (time.time() + tokens["expires_in"]))
    return tokens | {
        "hassUrl": address,
        "clientId": address + "/",
        "expires": expires,
    }


async def take(
    address: str, path: str, picture: Path, width: int, height: int, scheme: Any
) -> None:
    """Open a page of the demo as its user and keep a picture of it."""
    async with http_session() as session:
        tokens = await sign_in(session, address)
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=list(FLAGS)
        )
        context = await browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=scheme,
            locale="en-GB",
            timezone_id="Atlantic/Azores",
        )
        stored = json.dumps(json.dumps(tokens))
        await context.add_init_script(f"localStorage.hassTokens = {stored}")
        page = await context.new_page()
        await page.goto(address + path)
        await page.get_by_text("What runs").first.wait_for(timeout=60_000)
        await page.wait_for_timeout(8_000)  # the graphs fetch and draw
        picture.parent.mkdir(parents=True, exist_ok=True)
        await page.screenshot(path=picture)
        await browser.close()


def main() -> int:
    """Take the picture; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m demo.screenshot")
    parser.add_argument("--port", type=int, default=8123)
    parser.add_argument("--path", default="/")
    parser.add_argument("--out", type=Path, default=PICTURE)
    parser.add_argument("--size", type=int, nargs=2, default=(1440, 1200))
    parser.add_argument("--dark", action="store_true")
    chosen = parser.parse_args()
    address = f"http://127.0.0.1:{chosen.port}"
    width, height = chosen.size
    scheme = "dark" if chosen.dark else "light"
    asyncio.run(take(address, chosen.path, chosen.out, width, height, scheme))
    print(f"{chosen.out}: {chosen.out.stat().st_size / 1000:.0f} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
