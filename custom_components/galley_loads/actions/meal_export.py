"""The meal book as a file: `/api/galley_loads/<entry id>/meals.csv` and `.json`.

Both are for whoever may read the boat's entities, and are written to the client
meal by meal, so that the book of many years needs no more memory than a page of it.
"""

from collections.abc import AsyncIterator
from http import HTTPStatus
from typing import Final
from urllib.parse import urlencode

from aiohttp import web
from homeassistant.auth.permissions.const import POLICY_READ
from homeassistant.components.http import KEY_HASS_USER
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import Unauthorized
from homeassistant.helpers.http import KEY_HASS, HomeAssistantView
from homeassistant.util import dt as dt_util

from ..boat.rights import Right, has_right
from ..const import DOMAIN
from ..core.meals.meal_export_formats import CsvExport, JsonExport
from ..core.meals.meal_query import MealFilter
from ..runtime import GalleyConfigEntry

URL: Final = "/api/galley_loads/{entry_id}/meals.{form}"

_CHUNK_CHARACTERS: Final = 16_384

CONTENT_TYPES: Final = {"csv": "text/csv", "json": "application/json"}


@callback
def async_setup_meal_export(hass: HomeAssistant) -> None:
    """Register the address."""
    hass.http.register_view(MealExportView)


def export_urls(entry: GalleyConfigEntry, wanted: MealFilter) -> dict[str, str]:
    """Return the addresses, below the platform's own, of the files with these meals."""
    query = {
        name: value
        for name, value in (
            ("from", _iso(wanted.from_s)),
            ("to", _iso(wanted.to_s)),
            ("label", wanted.label),
            ("dish", wanted.dish),
            ("appliance", wanted.appliance),
        )
        if value is not None
    }
    tail = f"?{urlencode(query)}" if query else ""
    return {
        f"{form}_url": URL.format(entry_id=entry.entry_id, form=form) + tail
        for form in CONTENT_TYPES
    }


def _iso(at_s: float | None) -> str | None:
    return None if at_s is None else dt_util.utc_from_timestamp(at_s).isoformat()


class MealExportView(HomeAssistantView):
    """Hands out the meal book."""

    url = "/api/galley_loads/{entry_id}/meals.{form:csv|json}"
    name = "api:galley_loads:meals"

    async def get(
        self, request: web.Request, entry_id: str, form: str
    ) -> web.StreamResponse:
        """Write the meals to the client, one piece at a time."""
        hass = request.app[KEY_HASS]
        entry: GalleyConfigEntry | None = hass.config_entries.async_get_entry(entry_id)
        if entry is None or entry.domain != DOMAIN:
            return self.json_message(
                "There is no boat of that id", HTTPStatus.NOT_FOUND
            )
        if not has_right(hass, request[KEY_HASS_USER], Right.READ, entry):
            raise Unauthorized(config_entry_id=entry_id, permission=POLICY_READ)
        if entry.state is not ConfigEntryState.LOADED:
            return self.json_message(
                f"{entry.title} is not loaded", HTTPStatus.SERVICE_UNAVAILABLE
            )
        try:
            wanted = _filter(request)
        except ValueError as err:
            return self.json_message(str(err), HTTPStatus.BAD_REQUEST)
        response = web.StreamResponse(
            headers={
                "Content-Type": f"{CONTENT_TYPES[form]}; charset=utf-8",
                "Content-Disposition": f'attachment; filename="meals.{form}"',
                "Cache-Control": "no-store",
                "X-Content-Type-Options": "nosniff",
            }
        )
        await response.prepare(request)
        async for piece in _pieces(entry, form, wanted):
            await response.write(piece.encode())
        await response.write_eof()
        return response


def _filter(request: web.Request) -> MealFilter:
    """Return which meals the address asks for.

    Raises:
        ValueError: names the field, the value and what is allowed.
    """
    query = request.query
    if unknown := sorted(set(query) - {"from", "to", "label", "dish", "appliance"}):
        raise ValueError(
            f"{unknown[0]}: not known; allowed are from, to, label, dish, appliance"
        )
    return MealFilter(
        _moment(query.get("from"), "from"),
        _moment(query.get("to"), "to"),
        query.get("label"),
        query.get("dish"),
        query.get("appliance"),
    )


def _moment(text: str | None, field: str) -> float | None:
    if text is None:
        return None
    at = dt_util.parse_datetime(text)
    if at is None or at.tzinfo is None:
        raise ValueError(
            f"{field}: {text!r} is no time; allowed is ISO 8601 with an offset, such as"
            " 2026-05-12T18:30:00Z"
        )
    return at.timestamp()


async def _pieces(
    entry: GalleyConfigEntry, form: str, wanted: MealFilter
) -> AsyncIterator[str]:
    """Yield the file in pieces worth a packet."""
    zone = entry.runtime_data.coordinator.boat.time_zone
    export = CsvExport(zone) if form == "csv" else JsonExport(zone)
    text = export.head()
    async for record in entry.runtime_data.meals.async_meals(wanted):
        text += export.meal(record)
        if len(text) >= _CHUNK_CHARACTERS:
            yield text
            text = ""
    yield text + export.tail()
