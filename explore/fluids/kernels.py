"""Look-ups in the property tables as plain loops over numbers, for :mod:`explore.machine_code` to translate.

They do what :class:`explore.fluids.table_fluid.TableFluid` does to arrays, operation by operation in the same order, and
give the same bits. Logarithms and exponentials stay outside, where both ways call the same library.
Each loop is translated by itself and can call no other: so three of them place a value on its grid by the same lines.
"""

from __future__ import annotations

from typing import Any

import numpy as np

Array = Any

VALUES, ROWS, TABLE = "float64[::1]", "int64[::1]", "float64[:,::1]"
PLACE = f"{VALUES}, {VALUES}, {VALUES}, {ROWS}, int64"
"""A value on a uniform grid, as :func:`locate` takes it."""
SIGNATURES = {
    "locate": f"void({VALUES}, {VALUES}, {VALUES}, {ROWS}, int64, {ROWS}, {VALUES})",
    "line": f"void({TABLE}, {ROWS}, {VALUES}, int64, {TABLE})",
    "line_at": f"void({TABLE}, {PLACE}, {TABLE})",
    "plane": f"void({TABLE}, int64, {ROWS}, {VALUES}, {VALUES}, {TABLE})",
    "state": f"void({TABLE}, {TABLE}, int64, int64, int64, int64, {PLACE}, {VALUES}, {TABLE})",
}
"""What each loop takes: said beforehand, a loop is translated once and not again for every kind of array."""


def locate(value: Array, low: Array, per: Array, first: Array, count: int, row: Array, a: Array) -> None:
    """Write the lower ``row`` of each value on a uniform grid of ``count`` points and its place ``a`` above that row.

    ``low`` and ``per`` are the grid's start and points per unit, ``first`` the row at which it begins; all (n,).
    """
    last = count - 1.0
    for i in range(len(value)):
        place = (value[i] - low[i]) * per[i]
        if not place >= 0.0:  # no number is at the start
            place = 0.0
        elif place > last:
            place = last
        lower = min(int(place), count - 2)
        row[i] = lower + first[i]
        a[i] = place - lower


def line(table: Array, row: Array, a: Array, first: int, out: Array) -> None:
    """Write to ``out`` (k, n) the columns of ``table`` from ``first`` on, between ``row`` and the next."""
    for i in range(len(row)):
        r, share = row[i], a[i]
        for k in range(out.shape[0]):
            low = table[r, first + k]
            out[k, i] = (table[r + 1, first + k] - low) * share + low


def line_at(table: Array, value: Array, low: Array, per: Array, first: Array, count: int, out: Array) -> None:
    """Write to ``out`` (k, n) the columns of ``table`` at each value: :func:`locate` and :func:`line` in one."""
    last = count - 1.0
    for i in range(len(value)):
        place = (value[i] - low[i]) * per[i]
        if not place >= 0.0:  # no number is at the start
            place = 0.0
        elif place > last:
            place = last
        lower = min(int(place), count - 2)
        r, share = lower + first[i], place - lower
        for k in range(out.shape[0]):
            start = table[r, k]
            out[k, i] = (table[r + 1, k] - start) * share + start


def plane(table: Array, width: int, row: Array, a: Array, place: Array, out: Array) -> None:
    """Write to ``out`` (k, n) the columns of a bilinear look-up; ``place`` may run past the last column, linearly."""
    last = width - 1.0
    for i in range(len(row)):
        held = place[i]
        if not held >= 0.0:  # no number is at the start
            held = 0.0
        elif held > last:
            held = last
        column = min(int(held), width - 2)
        b = (place[i] if np.isfinite(place[i]) else float(column)) - column
        share = a[i]
        ab = share * b
        none, right, up = 1.0 - share - b + ab, b - ab, share - ab
        corner = row[i] * width + column
        for k in range(out.shape[0]):
            value = table[corner, k] * none
            value += table[corner + 1, k] * right
            value += table[corner + width, k] * up
            value += table[corner + width + 1, k] * ab
            out[k, i] = value


def state(
    lines: Array, vapour: Array, width: int, known: int, sought: int, span: int, lnp: Array, low: Array, per: Array,
    first: Array, count: int, value: Array, out: Array,
) -> None:  # fmt: skip
    """Write to ``out`` (5, n) the state of a fluid that boils at one temperature, from pressure and one other property.

    ``lnp`` (n,) is the logarithm of the pressure, its grid that of :func:`locate`.
    ``known`` and ``sought`` are the columns of both properties of saturated liquid in ``lines``, those of dry vapour come
    next; ``span`` that of the known one's span above dew; ``vapour`` the plane beyond. Rows of ``out``: the sought
    property, ln v of the vapour, temperature, vapour's share x, volume v_l of what is liquid; v = v_l + x (v_vapour - v_l).
    """
    last, top = width - 1.0, count - 1.0
    for i in range(len(lnp)):
        place = (lnp[i] - low[i]) * per[i]
        if not place >= 0.0:  # no number is at the start
            place = 0.0
        elif place > top:
            place = top
        lower = min(int(place), count - 2)
        r, share = lower + first[i], place - lower
        dew = (lines[r + 1, known + 1] - lines[r, known + 1]) * share + lines[r, known + 1]
        above = value[i] - dew
        if above < 0.0:
            liquid = (lines[r + 1, known] - lines[r, known]) * share + lines[r, known]
            x = 1.0 + above / (dew - liquid)
            wet = (lines[r + 1, sought] - lines[r, sought]) * share + lines[r, sought]
            dry = (lines[r + 1, sought + 1] - lines[r, sought + 1]) * share + lines[r, sought + 1]
            out[0, i] = wet + x * (dry - wet)
            out[1, i] = (lines[r + 1, 6] - lines[r, 6]) * share + lines[r, 6]
            out[2, i] = (lines[r + 1, 0] - lines[r, 0]) * share + lines[r, 0]
            out[3, i] = x
            out[4, i] = (lines[r + 1, 5] - lines[r, 5]) * share + lines[r, 5]
            continue
        place = above * (last / ((lines[r + 1, span] - lines[r, span]) * share + lines[r, span]))
        held = place
        if not held >= 0.0:  # no number is at the start
            held = 0.0
        elif held > last:
            held = last
        column = min(int(held), width - 2)
        b = (place if np.isfinite(place) else float(column)) - column
        ab = share * b
        none, right, up = 1.0 - share - b + ab, b - ab, share - ab
        corner = r * width + column
        for k in range(3):
            found = vapour[corner, k] * none
            found += vapour[corner + 1, k] * right
            found += vapour[corner + width, k] * up
            found += vapour[corner + width + 1, k] * ab
            out[k, i] = found
        out[3, i] = 1.0
        out[4, i] = 0.0
