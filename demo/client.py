"""Talks to the demo's Home Assistant as its own pages do: HTTP and the websocket."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
import itertools
import time
from typing import Any, Final

from aiohttp import ClientError, ClientSession, ClientTimeout, ClientWebSocketResponse

USER: Final = "crew"
PASSWORD: Final = "at-anchor"


class DemoError(Exception):
    """Something did not work; the text is one line for whoever started the demo."""


class Platform:
    """A signed-in connection to one Home Assistant."""

    def __init__(self, session: ClientSession, address: str) -> None:
        """Keep the address, without a slash at its end."""
        self._session = session
        self._address = address
        self._numbers = itertools.count(1)
        self._socket: ClientWebSocketResponse | None = None
        self.token = ""
        self.tokens: dict[str, Any] = {}

    async def post(self, path: str, body: Any = None) -> Any:
        """Post JSON; return the answer's JSON.

        Raises:
            DemoError: the platform answered with anything but success.
        """
        headers = {"Authorization": f"Bearer {self.token}"} if self.token else {}
        async with self._session.post(
            self._address + path, json=body, headers=headers
        ) as answer:
            if answer.status >= 400:
                text = (await answer.text())[:300]
                raise DemoError(f"{path} answered {answer.status}: {text}")
            return await answer.json()

    async def onboard(self) -> None:
        """Make the owner and sign in."""
        client = self._address + "/"
        made = await self.post(
            "/api/onboarding/users",
            {
                "client_id": client,
                "name": "Crew",
                "username": USER,
                "password": PASSWORD,
                "language": "en",
            },
        )
        form = {
            "grant_type": "authorization_code",
            "code": made["auth_code"],
            "client_id": client,
        }
        async with self._session.post(
            self._address + "/auth/token", data=form
        ) as answer:
            if answer.status != 200:
                raise DemoError(f"signing in failed with status {answer.status}")
            self.tokens = await answer.json()
        self.token = self.tokens["access_token"]

    async def open_socket(self) -> None:
        """Open the websocket and sign in there."""
        self._socket = await self._session.ws_connect(
            self._address + "/api/websocket", max_msg_size=0
        )
        await self._socket.receive_json()
        await self._socket.send_json({"type": "auth", "access_token": self.token})
        answer = await self._socket.receive_json()
        if answer["type"] != "auth_ok":
            raise DemoError(f"the websocket refused: {answer}")

    async def close_socket(self) -> None:
        """Close the websocket."""
        if self._socket is not None:
            await self._socket.close()

    async def ask(self, command: str, **fields: Any) -> Any:
        """Send a websocket command; return its result.

        Raises:
            DemoError: the platform refused the command.
        """
        socket = self._socket
        if socket is None:
            raise DemoError("the websocket is not open")
        number = next(self._numbers)
        await socket.send_json({"id": number, "type": command, **fields})
        while True:
            answer = await socket.receive_json()
            if answer.get("id") == number and answer["type"] == "result":
                break
        if not answer["success"]:
            raise DemoError(f"{command}: {answer['error']['message']}")
        return answer["result"]

    async def states(self) -> dict[str, dict[str, Any]]:
        """Return all states by entity id."""
        return {state["entity_id"]: state for state in await self.ask("get_states")}

    async def wait_until_running(self, *entity_ids: str) -> None:
        """Wait until the platform runs and these entities are there, at most a minute.

        Raises:
            DemoError: it took longer.
        """
        until = time.monotonic() + 60
        while time.monotonic() < until:
            config = await self.ask("get_config")
            if config["state"] == "RUNNING":
                states = await self.states()
                if all(entity_id in states for entity_id in entity_ids):
                    return
            await asyncio.sleep(0.3)
        raise DemoError("Home Assistant did not finish its start within a minute")

    async def set_up_boat(self, boat_file: str) -> str:
        """Set the boat up through the same forms that the pages show.

        Returns the id of its config entry.
        """
        flows = "/api/config/config_entries/flow"
        step = await self.post(flows, {"handler": "galley_loads"})
        step = await self.post(
            f"{flows}/{step['flow_id']}", {"next_step_id": "boat_file"}
        )
        step = await self.post(f"{flows}/{step['flow_id']}", {"text": boat_file})
        if step["type"] != "create_entry":
            problem = step.get("description_placeholders") or step.get("reason")
            raise DemoError(f"the boat was not taken: {step.get('errors')} {problem}")
        return str(step["result"]["entry_id"])

    async def meals_of_the_past(self) -> list[dict[str, Any]]:
        """Return the meals in the boat's meal book, once the past was read.

        They are all written down together at its end, so the first one tells that it is
        over; at most two minutes are waited for it.
        """
        until = time.monotonic() + 120
        while True:
            answer = await self.ask(
                "call_service",
                domain="galley_loads",
                service="list_meals",
                service_data={"limit": 1000},
                return_response=True,
            )
            meals: list[dict[str, Any]] = answer["response"]["meals"]
            if meals or time.monotonic() > until:
                return meals
            await asyncio.sleep(0.5)

    async def wait_until_cooking(self, entity_id: str) -> dict[str, dict[str, Any]]:
        """Return all states, as soon as this one is on or after a quarter of a minute."""
        until = time.monotonic() + 15
        while True:
            states = await self.states()
            cooking = states.get(entity_id, {}).get("state") == "on"
            if cooking or time.monotonic() > until:
                return states
            await asyncio.sleep(0.5)


async def wait_until_served(
    session: ClientSession, address: str, process: asyncio.subprocess.Process
) -> None:
    """Wait until the platform answers, at most two minutes.

    Raises:
        DemoError: it ended, or never answered.
    """
    until = time.monotonic() + 120
    while time.monotonic() < until:
        if process.returncode is not None:
            raise DemoError(f"Home Assistant ended with status {process.returncode}")
        try:
            async with session.get(address + "/api/onboarding") as answer:
                if answer.status == 200:
                    return
        except ClientError, TimeoutError:
            pass
        await asyncio.sleep(0.3)
    raise DemoError("Home Assistant did not answer within two minutes")


@asynccontextmanager
async def http_session() -> AsyncIterator[ClientSession]:
    """Open a session for HTTP."""
    async with ClientSession(timeout=ClientTimeout(total=60)) as session:
        yield session
