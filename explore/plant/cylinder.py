"""Cylinders: their size from what flows, and how fast their pistons go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from explore.fluids.interface import Array, Index


@dataclass(frozen=True)
class Make:
    """How cylinders are built, the same for every design.

    ``stroke_over_bore`` sigma [-]; ``acting`` 1 single or 2 double; ``stock_bores`` [m], rising, empty if any bore can be
    had; ``one_throw`` gives all stages one stroke.
    """

    stroke_over_bore: float = 1.0
    acting: int = 1
    stock_bores: tuple[float, ...] = ()
    one_throw: bool = False


@dataclass(frozen=True)
class Cylinders:
    """Cylinders of one stage of every design: ``bore``, ``stroke`` [m], ``number`` side by side (n,); ``acting`` 1 or 2."""

    bore: Array
    stroke: Array
    number: Array
    acting: int = 1

    @property
    def swept_volume(self) -> Array:
        """V_D [m3] of all cylinders of the stage, one side of the pistons."""
        return np.asarray(self.number * 0.25 * np.pi * self.bore**2 * self.stroke)

    def displaced(self, frequency: Array) -> Array:
        """Volume swept a second [m3/s] at ``frequency`` N [rev/s]: V_D N i_a."""
        return np.asarray(self.swept_volume * frequency * self.acting)

    def piston_speed(self, frequency: Array) -> Array:
        """Mean piston speed U = 2 S N [m/s]."""
        return np.asarray(2.0 * self.stroke * frequency)

    def take(self, index: Index) -> Cylinders:
        """Return those of the designs ``index``."""
        return Cylinders(self.bore[index], self.stroke[index], self.number[index], self.acting)


def size(
    make: Make,
    displaced: Sequence[Array],
    frequency: Array,
    number: Array,
    bores: Sequence[Array] | None = None,
) -> list[Cylinders]:
    """Cylinders of every stage that sweep ``displaced`` = k V_s mdot [m3/s] each at ``frequency`` N [rev/s].

    ``number`` z of equal cylinders in each stage. D follows from S = sigma D; with ``bores`` [m] held (bought from
    stock) the stroke follows instead. With ``make.one_throw`` the stroke of all is sigma times the bore of a cylinder of
    their geometric mean volume, and bores follow from it, or the pistons' areas would not fit one crank.
    """
    volumes = [d / (frequency * make.acting * number) for d in displaced]
    if bores is not None and not make.one_throw:
        return [
            Cylinders(D, V / (0.25 * np.pi * D**2), number, make.acting)
            for D, V in zip(bores, volumes, strict=True)
        ]
    if make.one_throw:
        mean = np.exp(np.mean([np.log(V) for V in volumes], axis=0))
        stroke = make.stroke_over_bore * _bore(make, mean)
        return [Cylinders(np.sqrt(V / (0.25 * np.pi * stroke)), stroke, number, make.acting) for V in volumes]
    own = [_bore(make, V) for V in volumes]
    return [Cylinders(D, make.stroke_over_bore * D, number, make.acting) for D in own]


def _bore(make: Make, volume: Array) -> Array:
    """Bore [m] of one cylinder of ``volume`` [m3] with S = sigma D."""
    return np.cbrt(volume / (0.25 * np.pi * make.stroke_over_bore))


def of_volume(make: Make, volume: Array) -> tuple[Array, Array]:
    """Bore and stroke [m] of one cylinder of ``volume`` [m3]; of a bore in stock where there are any."""
    bore = _bore(make, volume)
    if make.stock_bores:
        bore = np.where(np.isnan(bore), np.nan, from_stock(make, bore))
    return bore, np.asarray(4.0 * volume / (np.pi * bore**2))


def from_stock(make: Make, bore: Array) -> Array:
    """The next larger bore [m] in stock; the largest where all are smaller."""
    stock = np.asarray(make.stock_bores)
    return np.asarray(stock[np.minimum(np.searchsorted(stock, bore * (1.0 - 1e-9)), len(stock) - 1)])
