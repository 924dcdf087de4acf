"""Plans with a rack in processes that are to be killed: ``python -m tests.killed FOLDER``.

For every number read from standard input a child plans that job with the rack in the folder, writes the
plan and adds it to the rack, and says when it has done each; then it is told how the child ended.
"""

import os
import sys
from datetime import date
from pathlib import Path

from nesting import make_plan, write_plan
from nesting.geometry.region import Region
from nesting.job.job import Blank, Job, KeptSheet, Machine, MarkSetting, OrderLine, Stock
from nesting.rack import add_to_rack, read_rack

RACK, OUT = "shop.rack", "out"
FORMATS = ("json", "svg", "csv")
DAY = date(2026, 5, 30)
STAGES = ("begun", "planned", "written", "kept")


def numbered_job(number: int, kept: tuple[KeptSheet, ...] = ()) -> Job:
    """Make a job like no other: discs or, every third time, tags of one of seven widths."""
    disc, tag = Region.circle(40), Region.rectangle(20 + number % 7, 30)
    blanks = (
        Blank("disc", disc, 4.0, 1.0, 0.25, (0.0,), disc, "fine"),
        Blank("tag", tag, 4.0, 1.0, 0.25, (0.0,), tag, "fine"),
    )
    lines = (OrderLine("tags", "tag", 2) if number % 3 == 2 else OrderLine("discs", "disc", 3),)
    machine, stock = Machine(300, 200, kerf={"plywood": 0.2}), (Stock("plain", 110, 100, 3, "plywood"),)
    return Job(f"job {number}", machine, (MarkSetting("fine"),), stock, blanks, (), lines, kept=kept)


def work(number: int, folder: Path) -> None:
    """Plan, write and keep one job."""
    say("begun")
    plan = make_plan(numbered_job(number, read_rack(folder / RACK)), effort=0.05)
    say("planned")
    write_plan(plan, folder / OUT, FORMATS)
    say("written")
    add_to_rack(folder / RACK, plan, cut_on=DAY)
    say("kept")


def say(text: str) -> None:
    """Write a line at once, whoever is killed next."""
    os.write(1, f"{text}\n".encode())


def serve(folder: Path) -> None:
    """Work on one job after the other, each in a process of its own."""
    say("ready")
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            say(f"child {os.getpid()}")
            try:
                work(int(line), folder)
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        say("killed" if os.WIFSIGNALED(status) else "ended")


if __name__ == "__main__":
    serve(Path(sys.argv[1]))
