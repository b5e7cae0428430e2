"""A small picture of a month: daily means as lines told apart by dashes, not by colour alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from sunledger.archive.free_text import html_text

WIDTH, HEIGHT = 320, 120
_LEFT, _RIGHT, _TOP, _BOTTOM = 34, 46, 10, 18
SHORTWAVE = ("ghi", "dni", "dhi")


def month_picture(title: str, days: Mapping[str, Sequence[float | None]]) -> str:
    """
    Daily means of a month as SVG, to stand inside a page.

    Parameters
    ----------
    title : str
        What it shows, for those who do not see it.
    days : dict
        Quantity → daily means, None where there is none; up to three shortwave quantities are
        drawn. [W m-2]

    Returns
    -------
    svg : str
        Lines with the classes ``ghi``, ``dni``, ``dhi``, each labelled at its end; empty when there
        is nothing to draw. Days without a mean are gaps.
    """
    drawn = {n: days[n] for n in SHORTWAVE if any(v is not None for v in days.get(n, ()))}
    if not drawn:
        return ""
    present = [v for values in drawn.values() for v in values if v is not None]
    top = _round_up(max(present))
    count = max(len(values) for values in drawn.values())
    described = "; ".join(
        f"{n} from {min(present_of(v)):.0f} to {max(present_of(v)):.0f} W m-2"
        for n, v in drawn.items()
    )
    label = html_text(f"{title}: {described}")
    parts = [
        f'<svg class="look" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{label}">',
        *_axes(top, count),
    ]
    ends = _label_heights({n: _last(v, top) for n, v in drawn.items()})
    for name, values in drawn.items():
        parts += _line(name, values, top, count)
        x = WIDTH - _RIGHT + 4
        parts.append(f'<text class="{name}" x="{x}" y="{ends[name]:.0f}">{name}</text>')
    return "".join([*parts, "</svg>"])


def present_of(values: Sequence[float | None]) -> list[float]:
    """
    Values that are there.

    Parameters
    ----------
    values : sequence of float or None
        Daily means.

    Returns
    -------
    present : list of float
        Without None.
    """
    return [v for v in values if v is not None]


def _round_up(value: float) -> float:
    return next((t for t in (50, 100, 200, 300, 400, 600, 800, 1000) if t >= value), value)


def _x(day: int, count: int) -> float:
    return _LEFT + (day + 0.5) * (WIDTH - _LEFT - _RIGHT) / max(count, 1)


def _y(value: float, top: float) -> float:
    share = max(0.0, min(1.0, value / top))
    return HEIGHT - _BOTTOM - share * (HEIGHT - _TOP - _BOTTOM)


def _axes(top: float, count: int) -> Iterator[str]:
    base, right = HEIGHT - _BOTTOM, WIDTH - _RIGHT
    for value in (0.0, top / 2, top):
        y = _y(value, top)
        yield f'<path class="grid" d="M{_LEFT} {y:.1f}H{right}"/>'
        yield f'<text x="{_LEFT - 4}" y="{y + 4:.1f}" text-anchor="end">{value:.0f}</text>'
    for day in range(0, count, 10):
        x = _x(day, count)
        yield f'<text x="{x:.1f}" y="{base + 14}" text-anchor="middle">{day + 1}</text>'


def _line(name: str, values: Sequence[float | None], top: float, count: int) -> Iterator[str]:
    path, pen_down = [], False
    for day, value in enumerate(values):
        if value is not None:
            x, y = _x(day, count), _y(value, top)
            path.append(f"{'L' if pen_down else 'M'}{x:.1f} {y:.1f}")
            if not pen_down:
                path.append("h0")  # a lone day still shows as a dot
        pen_down = value is not None
    yield f'<path class="{name}" d="{"".join(path)}"/>'


def _last(values: Sequence[float | None], top: float) -> float:
    return _y(present_of(values)[-1], top) + 4


def _label_heights(wanted: Mapping[str, float]) -> dict[str, float]:
    """Heights at which labels do not cover each other."""
    placed: dict[str, float] = {}
    lowest = float(HEIGHT - 4)
    for name, y in sorted(wanted.items(), key=lambda item: -item[1]):
        placed[name] = min(y, lowest)
        lowest = placed[name] - 11
    shift = max(0.0, _TOP - min(placed.values()))
    return {name: y + shift for name, y in placed.items()}


def station_map(places: Sequence[tuple[str, str, float, float]]) -> str:
    """
    A map of stations on a plain grid of longitude and latitude, each dot a link.

    Parameters
    ----------
    places : sequence of (str, str, float, float)
        Name, address of its page, longitude and latitude in degrees.

    Returns
    -------
    svg : str
        The whole globe, north up, lines every 30 degrees; to stand inside a page.
    """
    lines = [f"M{x} 0V180" for x in range(0, 361, 30)] + [f"M0 {y}H360" for y in range(0, 181, 30)]
    dots = [
        f'<a href="{html_text(address)}" aria-label="{html_text(name)}"><title>{html_text(name)}'
        f'</title><circle cx="{longitude + 180:.2f}" cy="{90 - latitude:.2f}" r="3.5"/></a>'
        for name, address, longitude, latitude in places
    ]
    return (
        '<svg class="map" viewBox="-2 -2 364 184" role="group"'
        ' aria-label="Map of the stations, north up, lines every 30 degrees">'
        f'<path class="grid" d="{"".join(lines)}"/><path class="zero" d="M180 0V180M0 90H360"/>'
        f"{''.join(dots)}</svg>"
    )
