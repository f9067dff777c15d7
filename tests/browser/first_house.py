"""A new organisation's own papers: fourteen machines, two makers' tables, what was last done, a notebook.

Invented: makers, models, figures.
"""

from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class Owned:
    """A machine as its owner knows it. pace: hours a day over all days."""

    tag: str
    model: str
    hours: int
    since: int
    pace: float


TRACTOR, DIGGER = "Brava B 48", "Orrin K 27"
MACHINES = [
    *(
        Owned(f"T-{number:02d}", TRACTOR, 640 + 311 * number, 2024 - number, 0.8 + 0.35 * number)
        for number in range(1, 10)
    ),
    *(
        Owned(f"E-{number:02d}", DIGGER, 420 + 505 * number, 2024 - number, 1.1 + 0.4 * number)
        for number in range(1, 6)
    ),
]
LIST = "\n".join(
    [
        "Fleet number\tMake and model\tHours\tIn service since\tPrice",
        *(f"{m.tag}\t{m.model}\t{m.hours}\t{m.since}\t{18000 + 700 * m.hours // 100}" for m in MACHINES),
    ]
)
TABLES = {
    TRACTOR: """Task\tfirst 50 h\tevery 100 h\t200 h\t400 h\t1 year\tPage
Engine oil and filter\tx\t\tx\t\t\t4-11
Air filter\t\tx\t\t\t\t4-20
Fuel filter\t\t\t\tx\t\t4-22
Grease the front axle\t\tx\t\t\t\t4-31
Check the brakes\t\t\tx\t\t\t5-02
Coolant hoses\t\t\t\t\tx\t5-09""",
    DIGGER: """Task\tfirst 50 h\tevery 50 h\t250 h\t500 h\t1 year\tPage
Grease the swing bearing\t\tx\t\t\t\t3-04
Engine oil and filter\tx\t\tx\t\t\t3-08
Track tension\t\tx\t\t\t\t3-11
Hydraulic return filter\t\t\t\tx\t\t3-15
Canopy bolts\t\t\t\t\tx\t3-20""",
}
HALF = MACHINES[::2]


def last_done() -> str:
    """Half of the machines' tasks, as somebody keeps them: a line a task."""
    lines = ["Machine\tTask\tHours"]
    for machine in HALF:
        tasks = [row.split("\t")[0] for row in TABLES[machine.model].splitlines()[1:]]
        lines += [
            f"{machine.tag}\t{task}\t{machine.hours - 11 - 7 * place}" for place, task in enumerate(tasks)
        ]
    return "\n".join(lines)


def notebook(today: date) -> bytes:
    """Each week's hours of every machine over a quarter of a year, up to the day before yesterday."""
    rows = ["Date;Machine;Hours"]
    for weeks in range(13, 0, -1):
        day = today - timedelta(days=7 * weeks - 5)
        for machine in MACHINES:
            hours = machine.hours - machine.pace * (today - day).days
            rows.append(f"{day:%d.%m.%Y};{machine.tag};{hours:.1f}".replace(".", ".").replace(";", ";"))
    return "\n".join(rows).encode()
