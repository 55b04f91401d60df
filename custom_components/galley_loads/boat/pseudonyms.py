"""Stand-ins for the names that say whose boat it is, for files that go to strangers."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, is_dataclass
import re
from typing import Any, Final

from ..core.boat.boat import Boat

CONF_KIND: Final = "kind"


class Pseudonyms:
    """Puts `appliance 1`, `circuit 2`, `sensor 3` in the place of names."""

    def __init__(self, boat: Boat, title: str, entity_ids: Iterable[str]) -> None:
        """Know every name of a boat, and every entity that it reads."""
        stand_ins = {title: "boat", boat.name: "boat"}
        for what, names_of in (
            ("appliance", [part.name for part in boat.appliances]),
            ("circuit", [part.name for part in boat.circuits]),
            ("dish", [part.name for part in boat.dishes]),
        ):
            for number, name in enumerate(names_of, 1):
                stand_ins.setdefault(name, f"{what} {number}")
        for number, entity_id in enumerate(sorted(entity_ids), 1):
            stand_ins[entity_id] = f"{entity_id.partition('.')[0]} {number}"
        self._stand_ins = {name.casefold(): one for name, one in stand_ins.items()}
        # A longer name first: it may hold a shorter one.
        names = sorted(filter(None, stand_ins), key=len, reverse=True)
        self._names = re.compile("|".join(map(re.escape, names)), re.IGNORECASE)

    def _hidden_text(self, text: str) -> str:
        return self._names.sub(
            lambda found: self._stand_ins.get(found[0].casefold(), "hidden"), text
        )

    def hidden(self, value: Any) -> Any:
        """Return plain data, or a data class as such, without any of the names."""
        if isinstance(value, str):
            return self._hidden_text(value)
        if is_dataclass(value) and not isinstance(value, type):
            return self.hidden(asdict(value))
        if isinstance(value, Mapping):
            return {
                # An oven may well be called "oven"; what kind it is stays.
                self.hidden(key): one if key == CONF_KIND else self.hidden(one)
                for key, one in value.items()
            }
        if isinstance(value, list | tuple | set | frozenset):
            return [self.hidden(one) for one in value]
        return value
