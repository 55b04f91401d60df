"""What every test needs before anything else is imported, and the rigs that many share.

The platform's test harness brings a configuration folder with a
`custom_components` package of its own, and whichever package of that name is
imported first wins. Importing ours here makes sure that it is this repository's.
"""

import os

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity import Entity
from hypothesis import settings
import pytest
from pytest_homeassistant_custom_component.common import MockUser
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

import custom_components  # noqa: F401

from .cooking import DinnerAboard
from .galley_day import GalleyDay
from .issue_steps import Fixer

# A loaded machine is no failure, so no example has a deadline. Where nobody is
# there to look into a rare find, every run tries the same examples.
settings.register_profile("galley", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("galley")


@pytest.fixture
def day(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> GalleyDay:
    """A day aboard, at noon."""
    return GalleyDay(hass, freezer)


@pytest.fixture
def dinner(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> DinnerAboard:
    """A boat's late afternoon, before dinner is cooked."""
    return DinnerAboard(hass, freezer)


@pytest.fixture
def all_enabled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have every entity enabled that would be off by default."""
    monkeypatch.setattr(Entity, "entity_registry_enabled_default", True)


@pytest.fixture
def fixer(
    hass: HomeAssistant, hass_client: ClientSessionGenerator, hass_admin_user: MockUser
) -> Fixer:
    """Somebody who goes through the fixes of notices."""
    return Fixer(hass, hass_client, hass_admin_user)
