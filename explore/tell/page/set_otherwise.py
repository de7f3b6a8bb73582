"""Says in few words what was set differently in one run than in another, from the list of what differs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from explore.config.schema import Case, described
from explore.figures.format import NONE, label, lower, unit
from explore.figures.names import in_page_units
from explore.tell.beside import listed
from explore.tell.fluid_name import trade_name

MOST_TOLD = 4
"""Of the values that differ; more are counted, for the table below has them all."""
LONGEST = 40
"""Letters of a value that a sentence carries; a longer one is only named."""
ORDER = (
    "scenario.name", "scenario.demand", "scenario.limits", "scenario.objectives", "scenario.site", "scenario", "space",
    "costs", "collectors", "fluids", "engine", "exchangers", "",
)  # fmt: skip
"""What a builder asks for and pays comes before what the model assumes, and that before how long was searched."""
CARDS = ("collectors", "fluids")
OWNED = "scenario.owned."
"""Parts at hand have the names of what a design is made of, and are not the same: a tank that nobody has is bought."""
EXTENT = "how long or how it was searched"
TOLD_OF_SEARCH = ("search.against", "search.seed")
"""What decides of the result; of all other keys of the search that they differ is enough."""
NAMES = {
    "scenario.name": "the scenario",
    "scenario.fluids": "the fluids asked for",
    "scenario.limits.served_share_min": "the least share served",
    "scenario.site.tilt_deg": "tilt of the collectors in degrees",
    "search.against": "the reading of the objectives",
    "search.seed": "seed",
}
"""Of values whose key says too little in a sentence."""


def told(differences: Sequence[tuple[str, list[str]]], cases: Sequence[Case], place: int) -> str:
    """Say what is set differently in the case at ``place`` than in the first, ``differences`` as the page lists them."""
    apart = [(name, texts[0], texts[place]) for name, texts in differences if texts[place] != texts[0]]
    if not apart:
        return "Nothing was set differently: what differs is what each search came upon"
    words = [*_cards(apart, cases[0], cases[place]), *_values(apart, cases[0], cases[place])]
    rest = len(words) - MOST_TOLD
    more = [f"{rest} other value{'s' * (rest > 1)}, in the table below"] if rest > 0 else []
    return f"Set differently: {listed([*words[:MOST_TOLD], *more])}"


def _cards(apart: Sequence[tuple[str, str, str]], own: Case, other: Case) -> Iterator[str]:
    """Yield the cards of fluids and collectors that only one of two cases has."""
    for group in CARDS:
        mine, theirs = getattr(own, group), getattr(other, group)
        gone = [card.title for key, card in mine.items() if key not in theirs]
        come = [card.title for key, card in theirs.items() if key not in mine]
        if come:
            yield f"{listed(list(map(trade_name, come)))} added to the {group}"
        if gone:
            yield f"{listed(list(map(trade_name, gone)))} left out of the {group}"


def _values(apart: Sequence[tuple[str, str, str]], own: Case, other: Case) -> Iterator[str]:
    """Yield the values that differ, those first that a builder asks for."""
    units = {
        f"{group}.{one['name']}": str(one["unit"])
        for group, values in (("costs", own.costs), ("engine", own.engine))
        for one in described(values)
    }

    def place(name: str) -> int:
        return next(k for k, start in enumerate(ORDER) if name.startswith(start))

    for name, before, now in sorted(apart, key=lambda one: place(one[0])):
        group, _, rest = name.partition(".")
        key = rest.partition(".")[0]
        if group == "search" and name not in TOLD_OF_SEARCH:
            continue
        if group in CARDS and not (key in getattr(own, group) and key in getattr(other, group)):
            continue
        unset = "its whole range" if group == "space" else "none" if name.startswith(OWNED) else "not set"
        of = units.get(name, unit(name.rpartition(".")[2]))
        yield _value(_named(name.removesuffix(f"_{of}"), own), (before, now), in_page_units(of), unset)
    if any(name.startswith("search.") and name not in TOLD_OF_SEARCH for name, _, _ in apart):
        yield EXTENT


def _named(name: str, case: Case) -> str:
    """Name a value within a sentence: with the card that it belongs to, and a price as the price of something."""
    if name in NAMES:
        return NAMES[name]
    if name.startswith(OWNED):
        return f"{lower(label(name.removeprefix(OWNED)))} at hand"
    group, _, rest = name.partition(".")
    key, _, last = rest.rpartition(".")
    cards: Mapping[str, object] = getattr(case, group) if group in CARDS else {}
    if key in cards:
        return f"{lower(label(last))} of {trade_name(str(getattr(cards[key], 'title', key)))}"
    if group == "costs" and "_EUR" in last:
        stem, _, per = last.partition("_EUR")
        each = per.removeprefix("_per_").replace("_", " ") if per in ("_per_stage", "_per_level") else ""
        return f"price of {stem.replace('_', ' ')}{f' per {each}' if each else ''}"
    return f"{lower(label(last))} searched over" if group == "space" else lower(label(last))


def _value(name: str, texts: tuple[str, str], of: str, unset: str) -> str:
    if max(map(len, texts)) > LONGEST:
        return f"{name} otherwise"
    before, now = (unset if text == NONE else text for text in texts)
    ending = f" {of}" if of not in ("", "-") and NONE not in texts else ""
    return f"{name} {now} instead of {before}{ending}"
