"""Many things of which few are held in memory at a time."""

from collections.abc import Callable, Sequence
from typing import Generic, TypeVar, overload

Key = TypeVar("Key")
Item = TypeVar("Item")


class OnDemand(Sequence[Item], Generic[Key, Item]):
    """A sequence whose items are made when they are looked at: all at once take too much room.

    Parameters
    ----------
    keys : sequence
        One for each item. [-]
    make : callable
        Makes an item of its key. [-]
    """

    def __init__(self, keys: Sequence[Key], make: Callable[[Key], Item]) -> None:
        self._keys, self._make = keys, make

    def __len__(self) -> int:
        return len(self._keys)

    @overload
    def __getitem__(self, at: int) -> Item: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[Item]: ...

    def __getitem__(self, at: int | slice) -> Item | Sequence[Item]:
        if isinstance(at, slice):
            return OnDemand(self._keys[at], self._make)
        return self._make(self._keys[at])
