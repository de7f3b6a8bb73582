"""Coefficients of the laws by which a stage loses (:mod:`explore.plant.losses`), as engines are made.

How far each law is believed stands beside its coefficients: (V) origin seen in print, (M) from memory, (A) assumption;
ranges are 10-90 %.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, Self

import numpy as np

from explore.fluids.interface import Array

PORT_FACTOR = np.pi**2 / 12.0
"""Mean of the squared piston speed over a stroke, (pi^2/4) U^2 2/3, times half the density: K of the valves' law."""
WALL_FLOOR = 0.15
"""Least wall loss over that without superheat (model, section 3L, assumption): no measured engine had walls without
loss."""
DRY_SHARE = 0.02
"""Factor of the walls' loss to dry vapour (model, section 3L, assumption): small beside condensation, and not
nothing."""
COEFFICIENTS = (
    "inlet_port", "outlet_port", "still_loss", "port_factor", "clearance", "gap", "land", "wall", "root_wall",
    "superheat", "wall_floor", "dry", "friction", "load_friction", "speed_friction",
)  # fmt: skip
"""Order in which loops take them."""
MILD_GAP = 14.0 / 13.0
"""The milder leak was fitted with a gap of 14 um where the other took 13; named kinds keep their proportion."""


@dataclass(frozen=True)
class Laws:
    """Coefficients of the laws of a stage's losses; the defaults are a carefully made engine.

    Every one has its meaning, unit, 10-90 % range, source and mark; groups move together where doubts are drawn.
    """

    inlet_port: float = 0.06
    """Discharge coefficient x port area / piston area of the admission; 0.03-0.10. (A) Form of the law: port Mach index,
    C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, 1960 (M)."""
    outlet_port: float = 0.08
    """The same of the exhaust; 0.05-0.12 (A)."""
    still_loss: float = 0.02
    """Pressure lost in valves and passages however slow the engine, d_0, share of the pressure; 0.01-0.05 (A)."""
    port_factor: float = PORT_FACTOR
    """K = pi^2/12 of K (U/s)^2 / (p v), the dynamic part of both pressure losses; exact for a sinusoidal piston."""
    clearance: float = 0.07
    """Clearance over swept volume, c; 0.04-0.10. 0.072 of a small steam expander, Glavatskaya et al., Energies 5 (2012)
    1751 (V)."""
    gap: float = 13e-6
    """Gap h [m] between piston and bore up to 0.1 m, growing with the root of the bore above; 9.5-18 um (A). Lapped 8,
    careful 13, home made 18 um."""
    land: float = 3e-3
    """Length l [m] of that gap; only h^3/l counts (A). Leak independent of sliding speed and proportional to the pressure
    difference: Steam Engine Research Committee, IMechE 1905 (V)."""
    leak: Literal["all_turn", "mild"] = "all_turn"
    """Whether the leak over the steam used grows as 1/eps, which fits valves that leak all the turn, or as
    sqrt(2/eps - 1)."""
    wall: float = 0.44
    """C_w, condensation of a swing of the wall counted; 0.25-0.8. Fitted on steam. Missing over indicated steam about as
    1/D and 1/sqrt(N): Cotterill's formula in Lineham, Text-Book of Mechanical Engineering (V)."""
    root_wall: float = 0.29
    """Coefficient of the variant `root`, y = 0.29 sqrt(B_0); 0.17-0.5. The data do not choose between the two."""
    walls: Literal["swing", "root"] = "swing"
    """Which of the two laws of the walls counts."""
    superheat: float = 2.4
    """Share of the wall loss saved by superheat, times (h1 - h_v)/L. Ripper, Proc. ICE 128 (1897) (M)."""
    wall_floor: float = WALL_FLOOR
    """Least of the wall loss that superheat leaves. (A) No measured engine had walls without loss."""
    dry: float = DRY_SHARE
    """Stanton number of dry vapour on the walls, of the dry part x_d (A)."""
    friction: float = 0.052e5
    """a [Pa]: mean pressure of rubbing at a bore of 0.1 m; 0.027-0.10 bar (A). Form: Chen and Flynn, SAE 650733 (1965)
    (M); root of the bore (A)."""
    load_friction: float = 0.055
    """b [-]: rubbing per indicated mean pressure; 0.03-0.12."""
    speed_friction: float = 0.035e5
    """c_f [Pa s/m]: rubbing per mean piston speed; 0.018-0.07 bar s/m (A)."""

    @classmethod
    def careful(cls) -> Self:
        """Carefully made, gap 13 um: the default."""
        return cls()

    @classmethod
    def lapped(cls) -> Self:
        """Lapped piston, gap 8 um."""
        return cls(gap=8e-6)

    @classmethod
    def home_made(cls) -> Self:
        """Home-made piston, gap 18 um."""
        return cls(gap=18e-6)

    @classmethod
    def ideal(cls) -> Self:
        """No losses and no clearance: textbook cycles."""
        return cls(
            still_loss=0.0, port_factor=0.0, clearance=0.0, gap=0.0, wall=0.0, root_wall=0.0, superheat=0.0,
            dry=0.0, friction=0.0, load_friction=0.0, speed_friction=0.0,
        )  # fmt: skip

    @cached_property
    def table(self) -> Array:
        """All as loops take them, a row each in the order of ``COEFFICIENTS``: one column, or n where a fit tries many."""
        rows = np.broadcast_arrays(*(np.atleast_1d(getattr(self, name)) for name in COEFFICIENTS))
        return np.array(rows, dtype=np.float64)

    def serves(self, n: int) -> bool:
        """Whether these are coefficients of n designs: one for all, or each its own."""
        return self.table.shape[1:] in ((1,), (n,))

    def milder_leak(self) -> Self:
        """Return the same engine with the variant `mild` of the leak, its gap in proportion."""
        return replace(self, leak="mild", gap=self.gap * MILD_GAP)
