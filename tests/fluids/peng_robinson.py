"""Bubble and dew pressures of a mixture after Peng and Robinson: an equation of its own, for comparison.

D.-Y. Peng and D. B. Robinson, Ind. Eng. Chem. Fundam. 15 (1976) 59, van der Waals mixing, all interaction
parameters zero. Critical constants and acentric factors: Poling, Prausnitz and O'Connell, The Properties of
Gases and Liquids, 5th ed., 2001, appendix A (from memory).
"""

from __future__ import annotations

import numpy as np

R = 8.314462618
CONSTANTS = {
    "n-Propane": (369.83, 42.48e5, 0.152),
    "n-Butane": (425.12, 37.96e5, 0.200),
    "IsoButane": (407.85, 36.40e5, 0.186),
}


class PengRobinson:
    """Two or more components at one temperature [K]."""

    def __init__(self, components: tuple[str, ...], temperature: float) -> None:
        T_c, p_c, omega = np.array([CONSTANTS[name] for name in components]).T
        self.T = temperature
        kappa = 0.37464 + 1.54226 * omega - 0.26992 * omega**2
        alpha = (1.0 + kappa * (1.0 - np.sqrt(temperature / T_c))) ** 2
        self.a = 0.45724 * (R * T_c) ** 2 / p_c * alpha
        self.b = 0.07780 * R * T_c / p_c
        self.guess = p_c * np.exp(5.373 * (1.0 + omega) * (1.0 - T_c / temperature))

    def ln_phi(self, pressure: float, share: np.ndarray, liquid: bool) -> np.ndarray:
        """Logarithm of the fugacity coefficient of each component in one phase."""
        RT = R * self.T
        a, b = np.dot(share, np.sqrt(self.a)) ** 2, np.dot(share, self.b)
        A, B = a * pressure / RT**2, b * pressure / RT
        roots = np.roots([1.0, B - 1.0, A - 3.0 * B**2 - 2.0 * B, B**3 + B**2 - A * B])
        real = roots[np.abs(roots.imag) < 1e-9].real
        Z = real[real > B].min() if liquid else real.max()
        mixed = 2.0 * np.sqrt(self.a * a) / a - self.b / b
        log = np.log((Z + (1 + np.sqrt(2)) * B) / (Z + (1 - np.sqrt(2)) * B))
        return self.b / b * (Z - 1.0) - np.log(Z - B) - A / (2 * np.sqrt(2) * B) * mixed * log

    def pressure(self, share: np.ndarray, dew: bool = False) -> tuple[float, np.ndarray]:
        """Bubble (or dew) pressure [Pa] over a phase of mole fractions ``share``, and the other phase's."""
        p = 1.0 / np.sum(share / self.guess) if dew else float(np.dot(share, self.guess))
        other = share * (p / self.guess if dew else self.guess / p)
        for _ in range(500):
            other = other / other.sum()
            liquid, vapour = (other, share) if dew else (share, other)
            K = np.exp(self.ln_phi(p, liquid, True) - self.ln_phi(p, vapour, False))
            other = share / K if dew else share * K
            step = other.sum()
            p = p / step if dew else p * step
            if abs(step - 1.0) < 1e-11:
                break
        return p, other / other.sum()
