"""Making new designs from old ones: the operators, on arrays of genes.

Continuous genes lie in [0, 1]; choices are whole numbers. All randomness comes from the
generator that is passed in, so that a leg is a function of its seed.

Sources: simulated binary crossover, Deb and Agrawal, Complex Systems 9 (1995) 115-148;
polynomial mutation, Deb and Goyal, Computer Science and Informatics 26 (1996) 30-45;
differential step, Storn and Price, Journal of Global Optimization 11 (1997) 341-359.
"""

from __future__ import annotations

import numpy as np


# A wide spread (eta 2, where 15 to 20 is usual) because populations here are small and legs short: children must
# leave their parents' neighbourhood. Three genes in four are crossed, so that a child keeps some of its parent.
def simulated_binary_crossover(
    first: np.ndarray, second: np.ndarray, rng: np.random.Generator, *, eta: float = 2.0, rate: float = 0.75
) -> np.ndarray:
    """Cross pairs of parents (n, d) into one child each; ``rate`` is the share of genes crossed."""
    u = rng.random(first.shape)
    beta = np.where(
        u <= 0.5, (2.0 * u) ** (1.0 / (eta + 1.0)), (1.0 / (2.0 * (1.0 - u))) ** (1.0 / (eta + 1.0))
    )
    sign = np.where(rng.random(first.shape) < 0.5, 1.0, -1.0)
    child = 0.5 * ((first + second) + sign * beta * (first - second))
    return np.clip(np.where(rng.random(first.shape) < rate, child, first), 0.0, 1.0)


# A narrow step (eta 30, about 3 % of a range): crossover explores, mutation refines.
def polynomial_mutation(
    unit: np.ndarray, rng: np.random.Generator, *, eta: float = 30.0, rate: float
) -> np.ndarray:
    """Mutate each gene with probability ``rate`` by Deb's bounded polynomial step."""
    u = rng.random(unit.shape)
    power = 1.0 / (eta + 1.0)
    down = (2.0 * u + (1.0 - 2.0 * u) * (1.0 - unit) ** (eta + 1.0)) ** power - 1.0
    up = 1.0 - (2.0 * (1.0 - u) + (2.0 * u - 1.0) * unit ** (eta + 1.0)) ** power
    step = np.where(u < 0.5, down, up)
    return np.clip(np.where(rng.random(unit.shape) < rate, unit + step, unit), 0.0, 1.0)


# Factors from -0.2 to 0.8 go ahead more often than back; with seven genes in ten moved together a step follows the
# line that two designs of one kind span, and the other genes keep what was good.
def differential_step(
    base: np.ndarray, ahead: np.ndarray, behind: np.ndarray, rng: np.random.Generator, *, rate: float = 0.7
) -> np.ndarray:
    """Move ``base`` along the difference of two other designs by a random factor from -0.2 to 0.8."""
    factor = rng.uniform(-0.2, 0.8, (len(base), 1))
    moved = base + factor * (ahead - behind)
    crossed = rng.random(base.shape) < rate
    return reflect(np.where(crossed, moved, base))


def reflect(unit: np.ndarray) -> np.ndarray:
    """Fold values that left [0, 1] back in at the edge they crossed."""
    folded = np.abs(unit)
    return np.clip(np.where(folded > 1.0, 2.0 - folded, folded), 0.0, 1.0)


# A fluid or layout fits the sizes it was found with: one choice in five comes from the other parent.
def cross_choices(first: np.ndarray, second: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Take each choice from either parent, mostly from the first."""
    return np.where(rng.random(first.shape) < 0.2, second, first)


def mutate_choices(
    choices: np.ndarray, counts: tuple[int, ...], rng: np.random.Generator, *, rate: float
) -> np.ndarray:
    """Replace each choice with probability ``rate`` by one drawn from all its options."""
    drawn = (rng.random(choices.shape) * np.array(counts)).astype(choices.dtype)
    return np.where(rng.random(choices.shape) < rate, drawn, choices)
