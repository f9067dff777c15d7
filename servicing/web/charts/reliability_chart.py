"""What our forecasts said against what came: by the early, the likely and the late day."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isnan

from django.utils.translation import pgettext_lazy

from servicing.web.charts.axis import Frame, Scale, Tick

NAMES = (
    pgettext_lazy("day of a forecast", "early"),
    pgettext_lazy("day of a forecast", "likely"),
    pgettext_lazy("day of a forecast", "late"),
)
TOP, BOTTOM, HEIGHT = 28, 208, 236  # pixels


@dataclass(frozen=True)
class Came:
    """How many in 100 came by one of the days, and how many should have; x in per cent, y in pixels."""

    name: str
    aim: int
    share: int
    x: float
    y: float


@dataclass(frozen=True)
class ReliabilityChart:
    """The axes in per cent, and a point for each day with outcomes."""

    frame: Frame
    days: list[Came]


def reliability_chart(said: Iterable[float], came: Iterable[float]) -> ReliabilityChart:
    """Lay out, for the chances said of the three days, the shares that came by then; both 0..1, NaN: none."""
    up, across = Scale(0, 1, BOTTOM, TOP), Scale(0, 1, 0, 100)
    quarters = [0, 25, 50, 75, 100]
    return ReliabilityChart(
        frame=Frame(
            up=[Tick(up(each / 100), str(each)) for each in quarters],
            across=[Tick(across(each / 100), str(each)) for each in quarters],
            unit="%",
            top=TOP,
            bottom=BOTTOM,
            height=HEIGHT,
        ),
        days=[
            Came(str(name), round(100 * chance), round(100 * share), across(chance), up(share))
            for name, chance, share in zip(NAMES, said, came, strict=True)
            if not isnan(share)
        ],
    )
