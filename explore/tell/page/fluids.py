"""The comparison of working fluids: what the front reached with each, and what its card says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from explore.config.schema import FluidCard
from explore.figures.format import NONE, THIN_SPACE, whole, write
from explore.judgement.front import under_ceiling
from explore.tell.fluid_name import trade_name
from explore.tell.page.data import Run, Table

SYMBOLS = ("circle", "square", "diamond", "triangle-up", "triangle-down", "cross",
           "x", "star", "pentagon", "hexagon", "hourglass", "bowtie")  # fmt: skip
COLOURS = 24
"""As many as the palette of the page's theme has, and as there are symbols, full and open: so many fluids share neither."""
COLUMNS = {"at_20": "pressure_at_20degC_bar_g"}


@dataclass(frozen=True)
class FluidRow:
    """One line of the comparison; numbers already written for the reader, ``rank`` by best work.

    Colour and symbol go by how many designs of the front a fluid has: those seen most differ in colour.
    """

    name: str
    title: str
    short: str
    library: str
    rank: int
    colour: int
    symbol: str
    cells: dict[str, str]
    sort: dict[str, float]
    heed: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether no feasible design was found with it."""
        return bool(np.isnan(self.sort["work"]))


def compare(run: Run) -> list[FluidRow]:
    """Return a line per candidate fluid, best work per litre first; fluids without a design come last."""
    names = [name for name in _candidates(run)]
    known = feasible(run)
    counts = {name: len(_of(run.front, name)) for name in names}
    best = {name: _greatest(_of(known, name).numbers("work_per_litre_kJ")) for name in names}
    order = sorted(names, key=lambda name: (not counts[name], -np.nan_to_num(best[name], nan=-1.0), name))
    seen_most = sorted(order, key=lambda name: -counts[name])
    return [
        _row(run, name, rank, seen_most.index(name), _of(known, name), counts[name])
        for rank, name in enumerate(order)
    ]


def feasible(run: Run) -> Table:
    """Return the designs of the front and all other feasible ones of designs.csv, same columns."""
    flags = run.designs.text("feasible")
    good = run.designs.take(i for i, flag in enumerate(flags) if flag.lower() == "true")
    columns = [good.text(name) for name in run.front.header]
    return Table(run.front.header, (*run.front.rows, *zip(*columns, strict=True)))


def _candidates(run: Run) -> list[str]:
    asked = run.case.scenario.fluids or run.case.pure_fluids()
    found = (
        set(run.front.text("fluid"))
        | set(run.own.text("fluid"))
        | set(run.summary.get("designs_per_fluid", ()))
    )
    listed = [card.name for card in run.case.fluids.values() if card.name in asked or card.name in found]
    return listed + sorted(found - set(listed))


def _row(run: Run, name: str, rank: int, mark: int, mine: Table, on_front: int) -> FluidRow:
    card = next((card for card in run.case.fluids.values() if card.name == name), None)
    listed = _card_numbers(card) if card else {}
    numbers = _reached(mine) | _ceilings(run, name, mine)
    standing = mine.numbers("standstill_pressure_bar_g")
    cells = {key: write(value, COLUMNS.get(key, "")) for key, value in numbers.items()}
    cells |= {key: as_given(value) for key, value in listed.items()}
    cells |= {
        "designs": whole(on_front),
        "standstill": span(standing, "standstill_pressure_bar_g"),
        "class": card.safety_class if card else NONE,
        "regulation": f"{card.regulation} ({card.regulation_date})" if card else NONE,
    }
    numbers |= listed | {"designs": float(on_front), "standstill": _least(standing)}
    open_one = "-open" if (mark // len(SYMBOLS)) % 2 else ""
    return FluidRow(
        name=name,
        title=card.title if card else name,
        short=trade_name(card.title) if card else name,
        library=library_name(card.title, name) if card else "",
        rank=rank,
        colour=mark % COLOURS,
        symbol=SYMBOLS[mark % len(SYMBOLS)] + open_one,
        cells=cells,
        sort=numbers,
        heed=_heed(run, card) if card else (),
        tags=_tags(run, card) if card else (),
        remarks=card.remarks if card else (),
        sources=_sources(card) if card else (),
    )


def library_name(title: str, name: str) -> str:
    """Return the name that files and commands use, where the title does not begin with it; else nothing."""
    return "" if title.startswith(name) else name


def _reached(mine: Table) -> dict[str, float]:
    work = mine.numbers("work_per_litre_kJ")
    at_best = int(np.nanargmax(work)) if np.isfinite(work).any() else None
    swept = np.nansum([mine.numbers(f"swept_volume_{j}_L") for j in (1, 2, 3)], axis=0)

    def best(values: NDArray[np.float64]) -> float:
        return float("nan") if at_best is None else float(values[at_best])

    return {
        "work": _greatest(work),
        "cost_at_best": best(mine.numbers("cost_EUR")),
        "least_cost": _least(mine.numbers("cost_EUR")),
        "at_20": _least(mine.numbers("pressure_at_20degC_bar_g")),
        "swept": best(swept),
    }


def _ceilings(run: Run, name: str, mine: Table) -> dict[str, float]:
    listed = _of(run.fluids, name)
    pressure, work = mine.numbers("peak_pressure_bar_g"), mine.numbers("work_per_litre_kJ")
    found = {}
    for ceiling in run.case.report.pressure_ceilings_bar_g:
        column = under_ceiling(ceiling)
        written = column in run.fluids.header and len(listed) > 0
        found[f"at_{ceiling:g}"] = (
            float(listed.numbers(column)[0]) if written else _greatest(work[pressure <= ceiling])
        )
    return found


def _card_numbers(card: FluidCard) -> dict[str, float]:
    def or_nan(value: float | None) -> float:
        return float("nan") if value is None else float(value)

    return {"lfl": or_nan(card.lfl_percent), "gwp": or_nan(card.gwp100), "price": card.price_EUR_per_kg}


def _clashes(run: Run, card: FluidCard) -> list[str]:
    return [material for material in card.attacks if material in run.case.scenario.materials]


def _heed(run: Run, card: FluidCard) -> tuple[str, ...]:
    """Say in a word or two each what the table warns of."""
    clashes = _clashes(run, card)
    found = {
        "mixture": card.is_mixture,
        "flammable": card.flammable,
        "toxic": card.poisons,
        f"attacks {', '.join(clashes)}": bool(clashes),
    }
    return tuple(words for words, holds in found.items() if holds)


def _tags(run: Run, card: FluidCard) -> tuple[str, ...]:
    clashes = _clashes(run, card)
    limit = f" (exposure limit {card.exposure_limit_ppm:g} ppm)" if card.exposure_limit_ppm else ""
    found = {
        "flammable": card.flammable,
        f"toxic{limit}": card.poisons,
        f"attacks {', '.join(clashes)}, which the builder means to use": bool(clashes),
    }
    return tuple(words for words, holds in found.items() if holds)


def _sources(card: FluidCard) -> tuple[str, ...]:
    named = {
        "class": card.safety_source, "LFL": card.lfl_source, "exposure limit": card.exposure_limit_source,
        "GWP": card.gwp_source, "price": card.price_source,
        "conductivity of the liquid": card.liquid_conductivity_source,
        "viscosity of the vapour": card.vapour_viscosity_source,
    }  # fmt: skip
    return tuple(f"{what}: {source}" for what, source in named.items() if source)


def _of(table: Table, name: str) -> Table:
    return table.take(i for i, fluid in enumerate(table.text("fluid")) if fluid == name)


def _greatest(values: NDArray[np.float64]) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.max()) if finite.size else float("nan")


def _least(values: NDArray[np.float64]) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.min()) if finite.size else float("nan")


def span(values: NDArray[np.float64], name: str = "") -> str:
    """Write least and greatest of the values of column ``name`` as a span, a dash when there are none."""
    low, high = _least(values), _greatest(values)
    if not np.isfinite(low):
        return NONE
    texts = write(low, name), write(high, name)
    return texts[0] if texts[0] == texts[1] else f"{texts[0]} to {texts[1]}"


def as_given(value: float) -> str:
    """Write a value of a card with the digits it was given, not with more: 1.3, 0.006, 1."""
    return NONE if not np.isfinite(value) else f"{value:,.6g}".replace(",", THIN_SPACE)
