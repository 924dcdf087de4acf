"""An example of a plug-in in a package of its own: a plan writer with an option."""

from collections import Counter
from typing import ClassVar

from pydantic import Field

from nesting import Plan
from nesting.plan_values import Load
from nesting.plug_in_options import WithOptions


class FetchListWriter(WithOptions):
    """Writes ``fetch-list.txt``: how many blanks of each kind every load takes."""

    summary: ClassVar[str] = "fetch-list.txt: blanks to fetch from the shelf for each load"

    spare: int = Field(0, ge=0, le=100, description="further blanks of each kind, for test pieces")

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the file."""
        lines = [line for load in plan.loads for line in self._lines(plan, load)]
        return {"fetch-list.txt": ("\n".join(lines) + "\n").encode()}

    def _lines(self, plan: Plan, load: Load) -> list[str]:
        counts = Counter(plan.order(filling.unit.line).blank for filling in load.fillings)
        rows = [f"  {count + self.spare:4} {blank}" for blank, count in sorted(counts.items())]
        return [f"Load {load.number} on sheet {load.sheet}", *rows]
