"""The configuration folder of the demo's Home Assistant, made anew for every start."""

import gzip
import json
from pathlib import Path
import shutil
from typing import Any, Final

from .recorder_past import write_past
from .sandpiper import RELAYS
from .sensors import ENTITIES
from .story import GRID_S, Story

REPOSITORY: Final = Path(__file__).resolve().parent.parent
TEMPLATE: Final = REPOSITORY / "demo" / "config"

COMING_FILE: Final = "sandpiper.json.gz"


def _store(
    folder: Path, key: str, version: int, minor: int, data: dict[str, Any]
) -> None:
    content = {"version": version, "minor_version": minor, "key": key, "data": data}
    (folder / ".storage" / key).write_text(json.dumps(content), encoding="utf-8")


def make(folder: Path, port: int, story: Story) -> int:
    """Make the folder; return the number of states in its recorder."""
    shutil.rmtree(folder, ignore_errors=True)
    (folder / ".storage").mkdir(parents=True)
    (folder / "custom_components").mkdir()
    for name in ("configuration.yaml", "dashboard.yaml"):
        shutil.copy(TEMPLATE / name, folder / name)
    for source in (
        REPOSITORY / "custom_components" / "galley_loads",
        TEMPLATE / "custom_components" / "sandpiper",
    ):
        (folder / "custom_components" / source.name).symlink_to(source)
    # An `http:` section of the YAML would have to be confirmed by somebody within five
    # minutes; what is stored already counts at once. Nobody but this machine is served.
    _store(
        folder,
        "http",
        2,
        2,
        {
            "stable": {
                "server_port": port,
                "server_host": ["127.0.0.1"],
                "cors_allowed_origins": [],
                "login_attempts_threshold": -1,
                "ip_ban_enabled": True,
                "ssl_profile": "modern",
                "use_x_frame_options": True,
                "created_at": "2026-01-01T00:00:00+00:00",
                "error": None,
                "error_message": None,
            },
            "pending": None,
            "yaml_migration_done": True,
        },
    )
    # Only the owner is left to be made: no cloud services, no usage reports.
    _store(
        folder,
        "onboarding",
        4,
        1,
        {"done": ["core_config", "analytics", "integration"]},
    )
    past, coming = story.split()
    states = write_past(folder / "home-assistant_v2.db", ENTITIES, past)
    last = {entity_id: state for entity_id, state, _ in past}
    document = {
        "entities": [
            {
                "entity_id": entity.entity_id,
                "name": entity.name,
                "state": last.get(entity.entity_id),
                **entity.attributes,
            }
            for entity in ENTITIES
        ],
        "circuits": {
            relay: {
                "start_s": story.now_s,
                "step_s": GRID_S,
                "power_w": [round(w) for w in story.circuit_power(circuit)],
            }
            for circuit, relay in RELAYS.items()
        },
        "rows": coming,
    }
    with gzip.open(
        folder / COMING_FILE, "wt", encoding="utf-8", compresslevel=3
    ) as file:
        json.dump(document, file)
    return states
