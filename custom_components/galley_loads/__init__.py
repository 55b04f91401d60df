"""Galley Loads: what cooking takes out of a boat's battery bank."""

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ConfigEntryError
from homeassistant.helpers import config_validation as cv, device_registry as dr
from homeassistant.helpers.typing import ConfigType

from .advice.advice_runner import AdviceRunner
from .boat.boat_entry import boat_from_entry
from .bus_events import async_tell_bus
from .const import DOMAIN, PLATFORMS
from .coordinator import GalleyConfigEntry, GalleyCoordinator
from .core.boat.boat_problems import BoatError
from .entity import boat_device_info
from .intents import async_setup_intents
from .meals.dish_learning import DishLearning
from .meals.expected_meal import ExpectedMeal, ExpectedStore
from .meals.meal_export import async_setup_meal_export
from .meals.meal_filing import MealFiling
from .past.backfill import Backfill
from .past.history_store import HistoryStore
from .services import async_setup_services
from .state.engine_store import async_remove_stored
from .state.meal_store import MealStore
from .watch.galley_watch import GalleyWatch
from .watch.herald import Herald
from .watch.learn_mode import LearnDesk
from .watch.recurring_watch import DiscoveryWatch, async_forget_recurring
from .watch.sign_watch import SignWatch, async_forget_signs
from .watch.source_watch import SourceWatch, async_forget_issues

CONFIG_SCHEMA = cv.config_entry_only_config_schema(DOMAIN)


async def async_setup(hass: HomeAssistant, config: ConfigType) -> bool:
    """Set up what all boats share."""
    async_setup_services(hass)
    async_setup_intents(hass)
    async_setup_meal_export(hass)
    return True


async def async_setup_entry(hass: HomeAssistant, entry: GalleyConfigEntry) -> bool:
    """Set up one boat."""
    try:
        # Reads the boat's time zone from a file, so not in the event loop.
        boat = await hass.async_add_executor_job(boat_from_entry, entry)
    except BoatError as err:
        raise ConfigEntryError(
            translation_domain=DOMAIN,
            translation_key="boat_invalid",
            translation_placeholders={"boat": entry.title, "problem": str(err)},
        ) from err
    # First of all: a change while this goes on is a change of the boat, too.
    entry.async_on_unload(entry.add_update_listener(_async_entry_changed))
    coordinator = GalleyCoordinator(hass, entry, boat)
    # Appliances hang on the boat's device, so it has to be there before them.
    device = dr.async_get(hass).async_get_or_create(
        config_entry_id=entry.entry_id, **boat_device_info(entry)
    )
    coordinator.boat_device_id = device.id
    coordinator.meals = MealStore(hass, entry.entry_id)
    await coordinator.meals.async_load()
    MealFiling(coordinator, coordinator.meals).async_start()
    dishes = DishLearning(coordinator, coordinator.meals)
    dishes.async_start()
    coordinator.backfill = Backfill(hass, coordinator, coordinator.meals, dishes)
    await coordinator.backfill.async_prepare()
    # The others ask it of a meal that is over, so it hears of it first.
    coordinator.expected = ExpectedMeal(hass, coordinator)
    await coordinator.expected.async_start()
    coordinator.herald = Herald(hass, coordinator)
    coordinator.herald.async_start()
    coordinator.advice = AdviceRunner(hass, coordinator)
    coordinator.advice.async_start()
    coordinator.learn = LearnDesk(hass, coordinator)
    coordinator.learn.async_start()
    coordinator.watch = GalleyWatch(hass, entry, coordinator)
    await coordinator.watch.async_start()
    await coordinator.async_start()
    entry.runtime_data = coordinator
    await hass.config_entries.async_forward_entry_setups(entry, PLATFORMS)
    await coordinator.backfill.async_start()
    entry.async_on_unload(async_tell_bus(hass, entry))
    entry.async_on_unload(SourceWatch(hass, entry).async_start())
    entry.async_on_unload(DiscoveryWatch(hass, entry).async_start())
    entry.async_on_unload(SignWatch(hass, entry).async_start())
    return True


async def _async_entry_changed(hass: HomeAssistant, entry: GalleyConfigEntry) -> None:
    """Start anew with the changed boat; counters and what was cooked stay."""
    hass.config_entries.async_schedule_reload(entry.entry_id)


async def async_unload_entry(hass: HomeAssistant, entry: GalleyConfigEntry) -> bool:
    """Unload one boat."""
    if unloaded := await hass.config_entries.async_unload_platforms(entry, PLATFORMS):
        await entry.runtime_data.backfill.async_stop()
        await entry.runtime_data.async_stop()
        await entry.runtime_data.watch.async_stop()
    return unloaded


async def async_remove_entry(hass: HomeAssistant, entry: GalleyConfigEntry) -> None:
    """Remove what was stored about a boat."""
    await async_remove_stored(hass, entry.entry_id)
    await HistoryStore(hass, entry.entry_id).async_remove()
    await MealStore(hass, entry.entry_id).async_remove()
    await ExpectedStore(hass, entry.entry_id).async_remove()
    await GalleyWatch.async_remove(hass, entry)
    async_forget_issues(hass, entry)
    async_forget_recurring(hass, entry.entry_id)
    async_forget_signs(hass, entry.entry_id)
