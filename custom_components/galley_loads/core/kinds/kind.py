"""A kind of appliance: its word in a boat file, and its description behind it.

A kind is a description, nothing else: the states that an appliance of that kind goes
through, how much of its rated power it draws in each, how long it usually stays, what may
follow, and the traits that say what may be done and said about it. Inference, meals,
dishes, standby, cutting, alerts and events all read it; no other code knows kinds by name.
"""

from collections.abc import Callable, Iterator
from typing import Self, override

from .behaviour import Description
from .traits import Traits


class Kind(str):
    """One kind; the text is its word in boat files, states and translations."""

    __slots__ = ("_description",)

    _description: Description

    def __new__(cls, description: Description) -> Self:
        """Make the kind that `description` describes.

        Raises:
            ValueError: the description has no name.
        """
        if not description.name:
            raise ValueError("the description of a kind needs a name")
        kind = super().__new__(cls, description.name)
        kind._description = description
        return kind

    @override
    def __reduce__(self) -> tuple[type[Kind], tuple[Description]]:
        """Be copied with the description."""
        return Kind, (self._description,)

    @property
    def description(self) -> Description:
        """How appliances of this kind behave."""
        return self._description

    @property
    def traits(self) -> Traits:
        """What may be done and said about them."""
        return self._description.traits

    @property
    def is_cooking(self) -> bool:
        """Whether a run of this kind belongs to a meal."""
        return self.traits.cooking

    @property
    def is_hot_water(self) -> bool:
        """Whether this kind heats water to wash with: never part of a meal."""
        return self.traits.hot_water

    @property
    def is_hot_drink(self) -> bool:
        """Whether a run of this kind alone is called a hot drink rather than a meal."""
        return self.traits.hot_drink

    @property
    def default_standby_w(self) -> float:
        """What a live, idle appliance of this kind draws where nobody knows better, W."""
        return self._description.standby_w

    @property
    def typical_power_share(self) -> float:
        """Mean draw while in use as a share of the rated power."""
        return self._description.typical_share

    def typical_energy_wh(self, rated_power_w: float, minutes: float) -> float:
        """Energy that `minutes` of use are expected to take, Wh.

        The heat-up at full power comes first, the kind's holding share follows.
        """
        description = self._description
        heating = min(minutes, description.heat_up_minutes)
        holding = minutes - heating
        share_minutes = heating + holding * description.holding_share
        return rated_power_w * share_minutes / 60.0


class Catalogue:
    """The kinds that a boat file may name, in the order in which forms offer them."""

    def __init__(self, *kinds: Kind) -> None:
        """Begin with these kinds."""
        self._kinds: dict[str, Kind] = {}
        for kind in kinds:
            self.add(kind)

    def __iter__(self) -> Iterator[Kind]:
        """Go through the kinds."""
        return iter(tuple(self._kinds.values()))

    def __len__(self) -> int:
        """Return the number of kinds."""
        return len(self._kinds)

    def named(self, word: str) -> Kind:
        """Return the kind of that word.

        Raises:
            KeyError: no kind has it.
        """
        return self._kinds[word]

    def add(self, kind: Kind) -> Callable[[], None]:
        """Add a kind; return what takes it out again.

        Raises:
            ValueError: another kind has its word.
        """
        if kind in self._kinds:
            raise ValueError(f"there is a kind {kind} already")
        self._kinds[str(kind)] = kind

        def remove() -> None:
            del self._kinds[kind]

        return remove
