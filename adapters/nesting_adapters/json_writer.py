"""Writes the plan as ``plan.json``."""

from nesting.plan_file import plan_to_json
from nesting.plan_values import Plan


class JsonWriter:
    """The whole plan, to be checked, kept or read by other programs."""

    summary = "plan.json: the whole plan, as nesting.plan_file reads it back"

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make ``plan.json``."""
        return {"plan.json": plan_to_json(plan).encode()}
