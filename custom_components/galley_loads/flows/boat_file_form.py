"""A boat file in a form: uploaded, or pasted as text."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from homeassistant.components.file_upload import process_uploaded_file
from homeassistant.core import HomeAssistant
from homeassistant.helpers.selector import (
    FileSelector,
    FileSelectorConfig,
    TextSelector,
    TextSelectorConfig,
)
import probatio

from ..core.boat.boat_file import boat_from_text, read_boat
from ..core.boat.boat_problems import BoatError, Fault, Problem
from ..core.boat.boat_schema import boat_to_mapping
from ..core.phrase import phrase

CONF_FILE: Final = "file"
CONF_TEXT: Final = "text"

BOAT_FILE_FORM: Final = probatio.Schema(
    {
        probatio.Optional(CONF_FILE): FileSelector(
            FileSelectorConfig(accept=".yaml,.yml,text/yaml")
        ),
        probatio.Optional(CONF_TEXT): TextSelector(TextSelectorConfig(multiline=True)),
    }
)


async def async_mapping_from_file(
    hass: HomeAssistant, answers: Mapping[str, Any]
) -> dict[str, Any]:
    """Return the boat description that was uploaded or pasted, in its plain form.

    Raises:
        BoatError: there is none, or it is no boat; the path leads to the form's field.
    """
    upload, text = answers.get(CONF_FILE), answers.get(CONF_TEXT)
    if not upload and not text:
        raise BoatError(
            [Problem((CONF_TEXT,), Fault.MISSING, phrase("boat.nothing_given"))]
        )
    return await hass.async_add_executor_job(_read, hass, upload, text)


def _read(hass: HomeAssistant, upload: str | None, text: str | None) -> dict[str, Any]:
    field = CONF_FILE if upload else CONF_TEXT
    try:
        if upload:
            boat = _read_upload(hass, upload)
        else:
            boat = boat_from_text(text or "")
    except BoatError as error:
        problem = error.problems[0]
        raise BoatError([Problem((field,), problem.fault, problem.in_full)]) from None
    except (OSError, ValueError) as error:
        said = phrase("boat.other", text=str(error))
        raise BoatError([Problem((field,), Fault.UNREADABLE, said)]) from None
    return boat_to_mapping(boat)


def _read_upload(hass: HomeAssistant, upload: str) -> Any:
    with process_uploaded_file(hass, upload) as path:
        return read_boat(Path(path))
