"""Watches whether the boat's entities are still there and still mean the same.

A renamed entity is followed. One that is gone, or whose unit changed, is reported by a
repair issue, which goes when it is cured.
"""

from collections.abc import Container
from datetime import timedelta
import time
from typing import Final

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.helpers.event import (
    async_track_entity_registry_updated_event,
    async_track_time_interval,
)
from homeassistant.helpers.start import async_at_started

from ..boat.boat_sensors import wanted_unit, watched_of
from ..boat.sensor_check import MEASURES, exists, unit_of
from ..boat.source_changes import async_replace_entity
from ..const import CONF_UNITS, DOMAIN
from ..coordinator import GalleyCoordinator

CHECK: Final = timedelta(minutes=1)

PATIENCE_S: Final = 300.0
"""So long an entity may be away, while its integration starts, before it is missed."""

ISSUE_MISSING: Final = "sensor_missing"
ISSUE_UNIT_CHANGED: Final = "unit_changed"
ISSUE_UNIT_UNFIT: Final = "unit_unfit"
ISSUES: Final = (ISSUE_MISSING, ISSUE_UNIT_CHANGED, ISSUE_UNIT_UNFIT)


def issue_id(kind: str, entry: ConfigEntry, entity_id: str) -> str:
    """Return the id of an issue about one entity of one boat."""
    return f"{kind}_{entry.entry_id}_{entity_id}"


@callback
def async_forget_issues(
    hass: HomeAssistant, entry: ConfigEntry, kept: Container[str] = ()
) -> None:
    """Take back the issues about a boat, but for those to be kept."""
    starts = tuple(f"{kind}_{entry.entry_id}_" for kind in ISSUES)
    for domain, issue in list(ir.async_get(hass).issues):
        if domain == DOMAIN and issue.startswith(starts) and issue not in kept:
            ir.async_delete_issue(hass, domain, issue)


class SourceWatch:
    """Watches the entities of one boat."""

    def __init__(self, hass: HomeAssistant, coordinator: GalleyCoordinator) -> None:
        """Take the entities from the entry."""
        self._hass = hass
        self._coordinator = coordinator
        self._entry = coordinator.config_entry
        self._quantities = watched_of(self._entry)
        self._missing_since: dict[str, float] = {}
        self._unsubscribe: list[CALLBACK_TYPE] = []

    @callback
    def async_start(self) -> CALLBACK_TYPE:
        """Watch until the returned function is called."""
        self._forget_left_over()
        self._unsubscribe = [
            async_track_entity_registry_updated_event(
                self._hass, list(self._quantities), self._async_registry_updated
            ),
            async_at_started(self._hass, self._async_started),
        ]

        @callback
        def stop() -> None:
            for unsubscribe in self._unsubscribe:
                unsubscribe()

        return stop

    @callback
    def _async_started(self, _: HomeAssistant) -> None:
        self._unsubscribe.append(
            async_track_time_interval(
                self._hass,
                self._async_check_all,
                CHECK,
                name="Galley sources",
                cancel_on_shutdown=True,
            )
        )
        self._async_check_all()

    @callback
    def _async_check_all(self, _: object = None) -> None:
        for entity_id in self._quantities:
            self._check(entity_id)

    @callback
    def _async_registry_updated(
        self, event: Event[er.EventEntityRegistryUpdatedData]
    ) -> None:
        data = event.data
        if data["action"] == "remove":
            self._missing_since[data["entity_id"]] = 0.0
            self._check(data["entity_id"])
        elif data["action"] == "update" and "old_entity_id" in data:
            old, new = data["old_entity_id"], data["entity_id"]
            self._coordinator.async_entity_renamed(old, new)
            async_replace_entity(self._hass, self._entry, old, new)
        else:
            self._check(data["entity_id"])

    def _forget_left_over(self) -> None:
        """Take back issues about what the boat no longer has."""
        async_forget_issues(
            self._hass,
            self._entry,
            {
                issue_id(kind, self._entry, entity_id)
                for kind in ISSUES
                for entity_id in self._quantities
            },
        )

    def _check(self, entity_id: str) -> None:
        self._check_presence(entity_id)
        self._check_unit(entity_id)

    def _check_presence(self, entity_id: str) -> None:
        if exists(self._hass, entity_id):
            self._missing_since.pop(entity_id, None)
            self._cure(ISSUE_MISSING, entity_id)
            return
        since_s = self._missing_since.setdefault(entity_id, time.time())
        if time.time() - since_s >= PATIENCE_S:
            self._raise(ISSUE_MISSING, entity_id, fixable=True)

    def _check_unit(self, entity_id: str) -> None:
        quantity = self._quantities[entity_id]
        unit = unit_of(self._hass, entity_id)
        measure = MEASURES.get(quantity)
        wanted = wanted_unit(quantity, entity_id, self._entry.data.get(CONF_UNITS, {}))
        kind: str | None = None
        if measure is not None and unit is not None and unit != wanted:
            if unit not in measure.units:
                kind = ISSUE_UNIT_UNFIT
            elif unit in measure.kept_units:
                kind = ISSUE_UNIT_CHANGED
        for other in (ISSUE_UNIT_CHANGED, ISSUE_UNIT_UNFIT):
            if other != kind:
                self._cure(other, entity_id)
        if kind is not None:
            self._raise(
                kind,
                entity_id,
                fixable=kind == ISSUE_UNIT_CHANGED,
                unit=unit or "",
                wanted=wanted,
            )

    def _raise(
        self,
        kind: str,
        entity_id: str,
        *,
        fixable: bool,
        unit: str = "",
        wanted: str = "",
    ) -> None:
        ir.async_create_issue(
            self._hass,
            DOMAIN,
            issue_id(kind, self._entry, entity_id),
            data={"entry_id": self._entry.entry_id, "entity_id": entity_id},
            is_fixable=fixable,
            severity=ir.IssueSeverity.WARNING,
            translation_key=kind,
            translation_placeholders={
                "boat": self._entry.title,
                "entity_id": entity_id,
                "unit": unit,
                "wanted": wanted,
            },
        )

    def _cure(self, kind: str, entity_id: str) -> None:
        ir.async_delete_issue(
            self._hass, DOMAIN, issue_id(kind, self._entry, entity_id)
        )
