"""What was made once, to be used again where the loads of a plan have something in common."""

from collections.abc import Callable, Hashable
from typing import TypeVar

Made = TypeVar("Made")


class Memory(dict[Hashable, Made]):
    """Things by the key they were made for."""

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """Give what was made for a key; make it if nothing was."""
        if key not in self:
            self[key] = make()
        return self[key]
