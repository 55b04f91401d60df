"""Names that several modules share."""

from typing import Final

from homeassistant.const import Platform

DOMAIN: Final = "galley_loads"

PLATFORMS: Final = [
    Platform.BINARY_SENSOR,
    Platform.BUTTON,
    Platform.CALENDAR,
    Platform.EVENT,
    Platform.SELECT,
    Platform.SENSOR,
]

# Kinds of subentry. Their data are the boat file's mappings without the name, which is
# the subentry's title; references to other subentries are kept as subentry ids, so that
# a new name breaks nothing.
SUBENTRY_APPLIANCE: Final = "appliance"
SUBENTRY_CIRCUIT: Final = "circuit"
SUBENTRY_DISH: Final = "dish"

# Entry data: the boat file's own sections, the unit of each sensor when it was chosen, and
# which meters are read with the other sign.
CONF_APPLIANCES: Final = "appliances"
CONF_BANK: Final = "bank"
CONF_CIRCUIT: Final = "circuit"
CONF_CIRCUITS: Final = "circuits"
CONF_DISHES: Final = "dishes"
CONF_FORECAST: Final = "forecast"
CONF_INVERTER: Final = "inverter"
CONF_POWER_SENSOR: Final = "power_sensor"
CONF_RELAY: Final = "relay"
CONF_REVERSED: Final = "reversed"
CONF_SENSORS: Final = "sensors"
CONF_SOLAR: Final = "solar"
CONF_TIME_ZONE: Final = "time_zone"
CONF_UNITS: Final = "units"

# Options.
CONF_MEAL_GAP: Final = "meal_gap_minutes"
CONF_STOVE_EFFICIENCY: Final = "stove_efficiency"

# Fired on the event bus when something has become certain; the logbook reads them.
EVENT_OCCURRENCE: Final = "galley_loads_news"
EVENT_MEAL_FINISHED: Final = "galley_loads_meal_finished"
EVENT_RUN_FINISHED: Final = "galley_loads_run_finished"

MANUFACTURER: Final = "Galley Loads"
