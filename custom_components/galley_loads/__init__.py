"""Galley Loads: what cooking takes out of a boat's battery bank."""

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ConfigEntryError
from homeassistant.helpers import config_validation as cv, device_registry as dr
from homeassistant.helpers.typing import ConfigType

from .actions.meal_export import async_setup_meal_export
from .advice.advice_runner import AdviceRunner
from .boat.boat_entry import boat_from_entry, parts_of
from .boat.claims import claim_at_start
from .const import DOMAIN, PLATFORMS, SUBENTRY_CIRCUIT
from .coordinator import GalleyCoordinator
from .core.boat.boat import Boat
from .core.boat.boat_problems import BoatError
from .entity import boat_device_info
from .intents import async_setup_intents
from .language.speech import english
from .meals.dish_learning import DishLearning
from .meals.expected_meal import ExpectedMeal, ExpectedStore
from .meals.meal_filing import MealFiling
from .past.backfill import Backfill
from .past.history_store import HistoryStore
from .runtime import GalleyConfigEntry, GalleyRuntime
from .services import async_setup_services
from .state.boat_store import async_remove_stores
from .state.engine_store import EngineStore, JournalStore
from .state.meal_store import MealStore
from .watch.appliance_timers import ApplianceTimers
from .watch.bus_events import async_report_settled
from .watch.circuit_cutting import CircuitCutting
from .watch.event_reports import EventReports
from .watch.galley_watch import GalleyWatch, async_forget_watch
from .watch.learn_mode import LearnMode
from .watch.night_ahead import NightAhead
from .watch.notifications import Notifier
from .watch.occurrence_reports import OccurrenceReports
from .watch.phone_answers import PhoneAnswers
from .watch.recurring_watch import DiscoveryWatch, async_forget_recurring
from .watch.sign_watch import SignWatch, async_forget_signs
from .watch.source_watch import SourceWatch, async_forget_issues
from .watch.watch_options import WatchOptions
from .watch.watch_present import WatchPresent
from .watch.watch_state import WatchState

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
            translation_placeholders={
                "boat": entry.title,
                "problem": english().say(err.phrase),
            },
        ) from err
    if (claim := claim_at_start(hass, entry)) is not None:
        raise ConfigEntryError(
            translation_domain=DOMAIN,
            translation_key="claimed",
            translation_placeholders={
                "boat": entry.title,
                "entity_id": claim.entity_id,
                "other_boat": claim.boat.title,
            },
        )
    # First of all: a change while this goes on is a change of the boat, too.
    entry.async_on_unload(entry.add_update_listener(_async_entry_changed))
    runtime = await _async_build(hass, entry, boat)
    coordinator = runtime.coordinator
    await coordinator.async_start()
    entry.runtime_data = runtime
    await hass.config_entries.async_forward_entry_setups(entry, PLATFORMS)
    await runtime.backfill.async_start()
    entry.async_on_unload(
        async_report_settled(hass, coordinator, runtime.expected.meals)
    )
    entry.async_on_unload(SourceWatch(hass, coordinator).async_start())
    entry.async_on_unload(DiscoveryWatch(hass, coordinator).async_start())
    entry.async_on_unload(SignWatch(hass, coordinator).async_start())
    return True


async def _async_build(
    hass: HomeAssistant, entry: GalleyConfigEntry, boat: Boat
) -> GalleyRuntime:
    """Return the parts of one boat, started: each hears of what is settled in this order."""
    coordinator = GalleyCoordinator(hass, entry, boat)
    # Appliances hang on the boat's device, so it has to be there before them.
    device = dr.async_get(hass).async_get_or_create(
        config_entry_id=entry.entry_id, **boat_device_info(entry)
    )
    meals = MealStore(hass, entry.entry_id)
    await meals.async_load()
    MealFiling(coordinator, meals).async_start()
    dishes = DishLearning(coordinator, meals)
    dishes.async_start()
    backfill = Backfill(hass, coordinator, meals, dishes)
    await backfill.async_prepare()
    advice = AdviceRunner(hass, coordinator)
    # The others ask it of a meal that is over, so it hears of it first.
    expected = ExpectedMeal(hass, coordinator, advice)
    await expected.async_start()
    night = NightAhead(hass, coordinator)
    options = WatchOptions.of(entry.options)
    circuit_names = {p.part_id: p.name for p in parts_of(entry, SUBENTRY_CIRCUIT)}
    state = await WatchState.async_load(
        hass, entry, boat, options, circuit_names, coordinator.appliance_names
    )
    present = WatchPresent(hass, coordinator)
    circuits = CircuitCutting(hass, entry, boat, present, state)
    answers = PhoneAnswers(hass, entry, circuits, present)
    notifier = Notifier(hass, entry.entry_id, options, boat.time_zone)
    occurrences = OccurrenceReports(
        hass, entry, boat, state, expected.meals, night, notifier
    )
    watch = GalleyWatch(state, present, night, circuits, answers, occurrences)
    reports = EventReports(hass, coordinator, advice, occurrences)
    reports.async_start()
    advice.async_start()
    learn = LearnMode(hass, coordinator)
    learn.async_start()
    watch.async_start(hass, coordinator)
    return GalleyRuntime(
        coordinator=coordinator,
        boat_device_id=device.id,
        meals=meals,
        advice=advice,
        expected=expected,
        watch=watch,
        circuits=circuits,
        savings=state.savings,
        timers=ApplianceTimers(state.reports.watch.timers, present, state),
        occurrences=occurrences,
        reports=reports,
        learn=learn,
        backfill=backfill,
    )


async def _async_entry_changed(hass: HomeAssistant, entry: GalleyConfigEntry) -> None:
    """Start anew with the changed boat; counters and what was cooked stay."""
    hass.config_entries.async_schedule_reload(entry.entry_id)


async def async_unload_entry(hass: HomeAssistant, entry: GalleyConfigEntry) -> bool:
    """Unload one boat."""
    if unloaded := await hass.config_entries.async_unload_platforms(entry, PLATFORMS):
        await entry.runtime_data.backfill.async_stop()
        await entry.runtime_data.coordinator.async_stop()
        await entry.runtime_data.watch.async_stop()
    return unloaded


async def async_remove_entry(hass: HomeAssistant, entry: GalleyConfigEntry) -> None:
    """Remove what was stored about a boat."""
    await async_remove_stores(
        hass, entry.entry_id, EngineStore, JournalStore, HistoryStore, ExpectedStore
    )
    await MealStore(hass, entry.entry_id).async_remove()
    await async_forget_watch(hass, entry)
    async_forget_issues(hass, entry)
    async_forget_recurring(hass, entry.entry_id)
    async_forget_signs(hass, entry.entry_id)
