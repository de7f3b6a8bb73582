"""How a fixed engine on a fully mixed store holds its power while the store is hot, and the drive to its load.

Net power rises with inlet pressure. With cut-off and speed it rises up to a greatest and falls again near full admission
or high speed: of an engine that gives more than P there, one root lies below, and it is taken, so that cut-off or speed
may spring as the store passes the sizing point. Power is compared with P (1 + 1e-7), for at the sizing point it is P by
construction. Only stage 1 is governed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index
from explore.plant.part_load import FixedEngine
from explore.plant.roots import falling_root

Governing = Literal["throttle", "cut_off", "speed", "free"]
GOVERNORS: tuple[Governing, ...] = ("throttle", "cut_off", "speed", "free")

TOLERANCE = 1e-7
"""An engine this near to what is wanted is not governed: its root is where it stands."""
LEAST_CUT_OFF = 0.05
"""Shortest cut-off that a valve gear sets (model, section 4G, assumption); what is still too much is throttled."""
LEAST_SPEED = 0.01
"""Lowest speed over the built one at which the root is sought; no engine that gives P turns so slowly."""
ROOT_STEPS = 8
"""Fixed, so that no design depends on its batch."""
GUESS_BELOW = 0.25
"""Logarithm of cut-off or speed by which their search starts below a power that grows as they do: near full admission or
full speed more of them gives hardly more power, or less, and a search that starts there is led astray by the slope."""
DRIVE_STEP = 0.96
"""Efficiency of one step of belt or gear (model, section 4G, assumption)."""
DRIVE_RATIO = 4.0
"""Ratio of one such step: a belt goes to about 4 to 1 (model, section 4G, assumption)."""


class Setting(NamedTuple):
    """Where a governor stands, each (n,): inlet ``pressure`` p1 [Pa], ``cut_off`` eps [-], ``frequency`` [rev/s]."""

    pressure: Array
    cut_off: Array
    frequency: Array


NetPower = Callable[[Setting], Array]
"""Net power [W], all pumps taken off, of the fixed engine at a setting of its governor."""


def drive_efficiency(speed: Array, load_speed: Array | float) -> Array:
    """Efficiency [-] of the belt or gear between engine and load, (n,): 0.96^(|ln(N/N_load)|/ln 4); speeds in one unit.

    Source: an assumption (model, section 4G).
    """
    return np.asarray(DRIVE_STEP ** drive_steps(speed, load_speed))


def drive_steps(speed: Array, load_speed: Array | float) -> Array:
    """Steps of 4 to 1 that the drive takes, |ln(N/N_load)|/ln 4 [-]: what its price grows with."""
    return np.asarray(np.abs(np.log(speed / load_speed)) / np.log(DRIVE_RATIO))


def ratio_at(clearance: Array | float, cut_off: Array) -> Array:
    """Built-in ratio [-] of stage 1 at a cut-off eps [-], (n,): r_1 = (1 + c)/(eps + c) (model, section 4G)."""
    return np.asarray((1.0 + clearance) / (cut_off + clearance))


def built_cut_off(engine: FixedEngine, clearance: Array | float) -> Array:
    """Cut-off [-] to which stage 1 was built."""
    return np.asarray((1.0 + clearance) / engine.volume_ratios[0] - clearance)


def with_cut_off(engine: FixedEngine, clearance: Array | float, cut_off: Array) -> FixedEngine:
    """Return the engine whose stage 1 cuts off at ``cut_off`` [-]: it admits as much less as the cut-off is shorter.

    Where the cut-off is as built the engine is, to the last bit: others of its batch may cut off.
    """
    whole = built_cut_off(engine, clearance)
    ratio = np.where(cut_off == whole, engine.volume_ratios[0], ratio_at(clearance, cut_off))
    return engine._replace(
        volume_ratios=[ratio, *engine.volume_ratios[1:]],
        admissions=[engine.admissions[0] * (cut_off / whole), *engine.admissions[1:]],
    )


def govern(
    governing: Governing | Index,
    net_power: NetPower,
    full: Setting,
    least_pressure: Array,
    power: Array,
    power_may_rise: float = 1.0,
    steps: int = ROOT_STEPS,
) -> Setting:
    """Find the setting that holds ``power`` P [W]; ``full`` is full admission at the built cut-off and speed N.

    ``governing``: one governor for all, or the place in :data:`GOVERNORS` of each design's, (n,).
    ``throttle`` lowers the inlet pressure, down to ``least_pressure`` [Pa] (that of the condenser); ``cut_off`` shortens
    the cut-off down to min(0.05, built) and throttles what is still too much; ``speed`` lets the speed fall;
    ``free`` leaves everything until the power is ``power_may_rise`` x P, where the throttle holds. Where the engine gives
    no more than P it stays at ``full``.

    Every governor turns one way: sought is the logarithm of what it turns, of both quantities together for a cut-off
    that ends in a throttle.
    """
    if isinstance(governing, str):
        governing = np.full(full.pressure.shape, GOVERNORS.index(governing))
    wanted = power * np.where(governing == GOVERNORS.index("free"), power_may_rise, 1.0)
    cuts, falls = (governing == GOVERNORS.index(name) for name in ("cut_off", "speed"))
    shortest = np.minimum(LEAST_CUT_OFF, full.cut_off)

    def setting(turned: Array) -> Setting:
        cut_off = np.where(cuts, np.clip(turned / full.pressure, shortest, full.cut_off), full.cut_off)
        behind = np.where(cut_off > shortest, full.pressure, turned / shortest)
        pressure = np.where(cuts, behind, np.where(falls, full.pressure, turned))
        return Setting(pressure, cut_off, np.where(falls, turned, full.frequency))

    most = np.where(falls, full.frequency, full.pressure * np.where(cuts, full.cut_off, 1.0))
    least = np.where(falls, LEAST_SPEED * full.frequency, least_pressure * np.where(cuts, shortest, 1.0))
    unturned = net_power(full)
    strong = unturned > wanted * (1.0 + TOLERANCE)

    def lack(ln_x: Array) -> Array:
        return np.asarray(1.0 - net_power(setting(np.exp(ln_x))) / wanted)

    # A cut-off within the clearance is none; the design is judged by that.
    with np.errstate(invalid="ignore"):
        high = np.log(most)
        low = np.minimum(np.log(least), high)
    excess = np.where(strong, unturned / wanted - 1.0, 0.0)
    below = np.where(cuts | falls, GUESS_BELOW, 0.0)
    guess = np.maximum(high - 0.7 * np.log1p(excess) - below, 0.5 * (low + high))
    found = setting(np.exp(falling_root(lack, low, high, guess, -1.0, steps)))
    return Setting(*(np.where(strong, turned, own) for turned, own in zip(found, full, strict=True)))
