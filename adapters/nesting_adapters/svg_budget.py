"""How much a small file may ask for, by elements that use each other."""

from nesting_adapters.svg_document import MAX_DEPTH, MAX_ELEMENTS, Element
from nesting_adapters.svg_path import MAX_POINTS, MAX_SEGMENTS, too_many_points, too_many_segments

MAX_CHARACTERS = 40_000_000
MAX_CUTS = 500_000
MAX_PIXELS = 8_000_000
MAX_PICTURES = 500


class ExcessError(Exception):
    """A drawing asks for more than is given."""


class Budget:
    """Counts what is read, copies included, and refuses what would take minutes or gigabytes."""

    def __init__(self) -> None:
        self.points, self.segments = MAX_POINTS, MAX_SEGMENTS
        self._elements, self._characters, self._cuts = MAX_ELEMENTS, MAX_CHARACTERS, MAX_CUTS
        self._pixels, self._pictures = MAX_PIXELS, MAX_PICTURES

    def visit(self, element: Element, depth: int) -> None:
        """Count an element.

        Raises
        ------
        ExcessError
            If there are too many, or it lies too deep.
        """
        self._elements -= 1
        self._characters -= element.size
        if self._elements < 0:
            raise ExcessError(f"more than {MAX_ELEMENTS} elements once copies (use) are counted")
        if self._characters < 0:
            raise ExcessError(f"more than {MAX_CHARACTERS} characters once copies (use) are counted")
        if depth > MAX_DEPTH:
            raise ExcessError(f"nested deeper than {MAX_DEPTH} elements")

    def trace(self, segments: int) -> None:
        """Count segments, which take time even where they draw nothing.

        Raises
        ------
        ExcessError
            If there are too many.
        """
        self.segments -= segments
        if self.segments < 0:
            raise ExcessError(too_many_segments())

    def spend(self, points: int) -> None:
        """Count points.

        Raises
        ------
        ExcessError
            If there are too many.
        """
        self.points -= points
        if self.points < 0:
            raise ExcessError(too_many_points())

    def cut(self, corners: int) -> None:
        """Count the corners of a clip each time something is cut by it.

        Raises
        ------
        ExcessError
            If there are too many.
        """
        self._cuts -= corners
        if self._cuts < 0:
            raise ExcessError("clip paths and viewports cut too much; apply them to the paths")

    def show(self, pixels: int) -> None:
        """Count a picture and its pixels.

        Raises
        ------
        ExcessError
            If there are too many.
        """
        self._pixels -= pixels
        self._pictures -= 1
        if self._pixels < 0:
            raise ExcessError(f"pictures of more than {MAX_PIXELS:,} pixels once copies (use) are counted")
        if self._pictures < 0:
            raise ExcessError(f"more than {MAX_PICTURES} pictures once copies (use) are counted")
