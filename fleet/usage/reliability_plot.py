"""The reliability plot: what was said against what came, as an SVG of its own."""

import numpy as np

SIDE, MARGIN, HEAD = 320, 64, 36


def draw(said: np.ndarray, came: np.ndarray) -> str:
    """Return an SVG: for each probability said, the share of outcomes that came by then; both 0..1.

    On the diagonal what is said holds. Points without an outcome (NaN) are left out.
    """
    known = ~np.isnan(came)
    points = [(_x(float(s)), _y(float(c))) for s, c in zip(said[known], came[known], strict=True)]
    width, height = MARGIN + SIDE + 24, HEAD + SIDE + 56
    ticks = "".join(_tick(share) for share in (0.0, 0.25, 0.5, 0.75, 1.0))
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dots = "".join(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="#1d1b16"/>' for x, y in points)
    size = f'viewBox="0 0 {width} {height}" width="{width}" height="{height}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" '
        'font-family="serif" font-size="14" fill="#1d1b16">'
        "<title>What was said against what came</title>"
        f'<rect width="{width}" height="{height}" fill="#fffdf6"/>'
        f'<text x="{MARGIN}" y="22" font-size="16">What was said against what came</text>'
        f'<rect x="{MARGIN}" y="{HEAD}" width="{SIDE}" height="{SIDE}" fill="none" stroke="#1d1b16"/>'
        f'<line x1="{_x(0)}" y1="{_y(0)}" x2="{_x(1)}" y2="{_y(1)}" stroke="#8a8371" stroke-dasharray="4 4"/>'
        f"{ticks}"
        f'<polyline points="{line}" fill="none" stroke="#1d1b16" stroke-width="2"/>{dots}'
        f'<text x="{MARGIN + SIDE / 2}" y="{HEAD + SIDE + 46}" text-anchor="middle">chance said</text>'
        f'<text transform="translate(16 {HEAD + SIDE / 2}) rotate(-90)" text-anchor="middle">'
        "share that came</text>"
        "</svg>\n"
    )


def _x(share: float) -> float:
    return MARGIN + SIDE * share


def _y(share: float) -> float:
    return HEAD + SIDE * (1 - share)


def _tick(share: float) -> str:
    return (
        f'<text x="{_x(share)}" y="{HEAD + SIDE + 20}" text-anchor="middle">{share:.0%}</text>'
        f'<text x="{MARGIN - 8}" y="{_y(share) + 5}" text-anchor="end">{share:.0%}</text>'
    )
