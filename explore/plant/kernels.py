"""Inner steps of the plant's solvers as plain loops over numbers, for :mod:`explore.machine_code` to translate.

They do what the arrays of ``roots.py``, ``losses.py`` and ``engine.py`` here and of ``cycle/curves.py`` do, operation by
operation in the same order, and give the same bits.
"""

from __future__ import annotations

from math import pi, sqrt
from typing import Any

from explore.plant.laws import COEFFICIENTS

Array = Any

VALUES, TABLE = "float64[::1]", "float64[:,::1]"
SIGNATURES = {
    "root_step": f"void({', '.join([VALUES] * 9)}, int64)",
    "leaked": f"void({TABLE}, boolean, {', '.join(['float64'] * 4)}, {', '.join([VALUES] * 8)})",
    "losses": f"void({TABLE}, boolean, {', '.join(['float64'] * 7)}, {', '.join([VALUES] * 21)}, {TABLE})",
    "curve": f"void({TABLE}, {TABLE}, float64[:,:,::1], int64[::1], boolean[::1], float64, {TABLE})",
    "finish": f"void({', '.join([VALUES] * 12)}, float64, {TABLE})",
}
"""What each loop takes: said beforehand, a loop is translated once and not again for every kind of array."""
(
    INLET_PORT, OUTLET_PORT, STILL_LOSS, PORT_FACTOR, CLEARANCE, GAP, LAND, WALL, ROOT_WALL, SUPERHEAT, WALL_FLOOR, DRY,
    FRICTION, LOAD_FRICTION, SPEED_FRICTION,
) = range(len(COEFFICIENTS))  # fmt: skip
"""Rows of :attr:`explore.plant.laws.Laws.table`."""


def root_step(
    value: Array, x: Array, previous: Array, before: Array, gradient: Array, low: Array, high: Array,
    first_low: Array, first_high: Array, step: int,
) -> None:  # fmt: skip
    """Move ``x`` one secant step towards the root of a falling function whose ``value`` there is known.

    ``previous`` and ``before`` are the place and value of the step before, ``low`` and ``high`` the bracket, which shrinks;
    all but ``value`` and the first bracket are written to.
    """
    for i in range(len(x)):
        here, now = x[i], value[i]
        if step:
            run = here - previous[i]
            if abs(run) > 1e-12:
                secant = (now - before[i]) / run
                if secant < 0.0:
                    gradient[i] = secant
        if now > 0.0:
            low[i] = here
        else:
            high[i] = here
        wanted = here - now / gradient[i]
        if wanted < first_low[i]:
            wanted = first_low[i]
        if wanted > first_high[i]:
            wanted = first_high[i]
        previous[i] = here
        before[i] = now
        x[i] = wanted if low[i] <= wanted <= high[i] else 0.5 * (low[i] + high[i])


def leaked(
    laws: Array, mild: bool, least_bore: float, critical: float, coefficient: float, least: float, bore: Array,
    speed: Array, built_in: Array, inlet: Array, outlet: Array, volume: Array, viscosity: Array, out: Array,
) -> None:  # fmt: skip
    """Write the share of the flow that leaks, :func:`explore.plant.losses.leaked`.

    ``laws`` are :attr:`explore.plant.laws.Laws.table`.
    """
    own = laws.shape[1] > 1
    for i in range(len(out)):
        one = i if own else 0
        clearance, gap, land = laws[CLEARANCE, one], laws[GAP, one], laws[LAND, one]
        h = gap * sqrt(max(bore[i], least_bore) / least_bore)
        ratio = min(outlet[i] / inlet[i], 1.0)
        slit = h * h * h * inlet[i] * (1.0 - ratio * ratio) / (24.0 * viscosity[i] * land)
        beyond = max(0.0, (ratio - critical) / (1.0 - critical))
        held = min(beyond, 1.0)
        orifice = h * coefficient * sqrt(1.0 - held * held) * sqrt(inlet[i] * volume[i])
        both = slit + orifice
        leak = slit * orifice / (both if both > 0.0 else 1.0)
        eps = min(max((1.0 + clearance) / built_in[i] - clearance, least), 1.0)
        rise = sqrt(2.0 / eps - 1.0) if mild else 1.0 / eps
        x = 8.0 * leak * rise / (bore[i] * speed[i])
        out[i] = x / (1.0 + x)


def losses(
    laws: Array, root: bool, most_in: float, most_out: float, softening: float, faces: float, effusivity: float,
    most: float, reference: float, bore: Array, stroke: Array, frequency: Array, speed: Array, eps: Array, phi: Array,
    p1: Array, v1: Array, enthalpy: Array, temperature: Array, p3: Array, v3: Array, coldest: Array, work: Array,
    swept: Array, dew: Array, h_l: Array, h_v: Array, v_l: Array, v_v: Array, conductivity: Array, out: Array,
) -> None:  # fmt: skip
    """Write to ``out`` (5, n) what a stage loses but for its leak: :func:`explore.plant.losses.admission_loss`,
    ``exhaust_loss``, the clearance, ``wall_share``, and ``friction`` of its ``work`` over the volume ``swept``.

    ``laws`` are :attr:`explore.plant.laws.Laws.table`.
    """
    own = laws.shape[1] > 1
    for i in range(len(bore)):
        one = i if own else 0
        through = speed[i] / laws[INLET_PORT, one]
        lost = laws[STILL_LOSS, one] + laws[PORT_FACTOR, one] * (through * through) / (p1[i] * v1[i])
        if lost < 0.0:  # not by max and min: what is no number stays so
            lost = 0.0
        if lost > most_in:
            lost = most_in
        out[0, i] = lost
        through = speed[i] / laws[OUTLET_PORT, one]
        lost = laws[STILL_LOSS, one] + laws[PORT_FACTOR, one] * (through * through) / (p3[i] * v3[i])
        if lost < 0.0:
            lost = 0.0
        if lost > most_out:
            lost = most_out
        out[1, i] = lost
        out[2, i] = laws[CLEARANCE, one]
        area = 2.0 * faces / (stroke[i] * eps[i]) + 4.0 / bore[i]
        latent = h_v[i] - h_l[i]
        time = phi[i] / (2.0 * pi * frequency[i])
        g = max(0.0, 0.5 * (dew[i] - coldest[i]))
        swing = g
        full = 0.0
        wet = 0.0
        for turn in range(1 if root else 2):
            film = sqrt(2.0 * conductivity[i] / v_l[i] * latent * swing * time)
            iron = 2.0 / sqrt(pi) * effusivity * swing * sqrt(time)
            both = film + iron
            heat = film * iron / (both if both > 0.0 else 1.0)
            condensed = area * v_v[i] / latent * heat
            if turn == 0:
                full = condensed
                swing = g * g / (g + softening)
            else:
                wet = laws[WALL, one] * condensed
        if root:
            wet = laws[ROOT_WALL, one] * sqrt(full)
            least = wet
        else:
            least = laws[WALL, one] * full
        saved = laws[SUPERHEAT, one] * max(0.0, enthalpy[i] - h_v[i]) / latent
        x = max(wet - saved, laws[WALL_FLOOR, one] * least)
        drop = max(0.0, temperature[i] - coldest[i]) / temperature[i]
        x = x + laws[DRY, one] * area * stroke[i] * phi[i] / (4.0 * pi) * drop
        out[3, i] = min(x / (1.0 + x), most)
        rubbing = laws[FRICTION, one] + laws[LOAD_FRICTION, one] * max(0.0, work[i] / swept[i])
        out[4, i] = rubbing * sqrt(reference / bore[i]) + laws[SPEED_FRICTION, one] * speed[i]


def curve(
    T: Array, edges: Array, series: Array, terms: Array, rooted: Array, least_width: float, out: Array
) -> None:
    """Write the values at temperatures T (n, m) [K] of what :class:`explore.cycle.curves.Curve` describes.

    ``edges`` (s + 1, n) [K] of s stretches, ``series`` (s, n, k) of which ``terms`` (s,) count, two at least each. A term
    is added as ``numpy.polynomial.legendre.legval`` does, after Clenshaw.
    """
    for i in range(T.shape[0]):
        for p in range(T.shape[1]):
            t = T[i, p]
            j = 0
            for later in range(1, series.shape[0]):
                if edges[later, i] < t:
                    j = later
            low = edges[j, i]
            share = (t - low) / max(edges[j + 1, i] - low, least_width)
            if share < 0.0:
                share = 0.0
            if share > 1.0:
                share = 1.0
            if j == 1 and rooted[i]:
                share = sqrt(share)
            x = 2.0 * share - 1.0
            count = terms[j]
            c0, c1 = series[j, i, count - 2], series[j, i, count - 1]
            left = float(count)
            for term in range(count - 3, -1, -1):
                before = c0
                left -= 1.0
                c0 = series[j, i, term] - c1 * ((left - 1.0) / left)
                c1 = before + c1 * x * ((2.0 * left - 1.0) / left)
            out[i, p] = c0 + c1 * x


def finish(
    enthalpy: Array, volume: Array, p2: Array, h2: Array, v2: Array, back: Array, c: Array, leak: Array, wall: Array,
    friction: Array, clearance_enthalpy: Array, clearance_volume: Array, least: float, out: Array,
) -> None:  # fmt: skip
    """Write to ``out`` (10, n) what :func:`explore.plant.engine.finish` works out, in the order of its ``FINISHED``."""
    for i in range(len(c)):
        ratio = v2[i] / volume[i]
        admission = max((1.0 + c[i]) / ratio - c[i], least)
        trapped = c[i] / admission
        u2 = h2[i] - p2[i] * v2[i]
        work = enthalpy[i] - (1.0 + trapped) * (u2 + back[i] * v2[i]) + trapped * clearance_enthalpy[i]
        kept = (1.0 - leak[i]) * (1.0 - wall[i])
        ideal = volume[i] / admission
        out[0, i] = ratio
        out[1, i] = work
        out[2, i] = kept
        out[3, i] = ideal
        out[4, i] = kept * ideal
        out[5, i] = kept * (work - friction[i] * ideal)
        out[6, i] = enthalpy[i] - kept * work
        out[7, i] = u2
        out[8, i] = ratio * c[i] / (1.0 + c[i]) - 1.0
        out[9, i] = c[i] * clearance_volume[i] / volume[i] / (1.0 + c[i]) - 1.0
