"""What is made once a plan is carried out: which units of which order lines."""

from collections import defaultdict
from dataclasses import replace

from nesting.job.job import OrderLine
from nesting.plan_values import Plan


def lines_made(plan: Plan) -> tuple[OrderLine, ...]:
    """List the order lines of which a plan, or one that it builds on, makes units: those units of them."""
    numbers: defaultdict[str, set[int]] = defaultdict(set)
    for load in plan.loads:
        for filling in load.fillings:
            numbers[filling.unit.line].add(filling.unit.number)
    lines: dict[str, OrderLine] = {}
    for line in (*plan.job.made, *plan.job.orders):
        if line in plan.job.made:
            numbers[line.name].update(line.numbers)
        if numbers[line.name]:
            lines[line.name] = part_of(line, numbers[line.name])
    return tuple(lines.values())


def part_of(line: OrderLine, numbers: set[int]) -> OrderLine:
    """Order some units of a line alone, under the numbers they have."""
    spares = set(line.unit_numbers[line.quantity - line.spares :])
    return replace(line, quantity=len(numbers), numbers=tuple(sorted(numbers)), spares=len(spares & numbers))
