"""What a person may ask of the design variables: pins and narrowings, checked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from explore.design.variables import INPUTS, LAYOUTS, STORE_MODES, Layout, Variable
from explore.errors import InputError, few, quoted, shortened
from explore.judgement import hazards
from explore.plant.governor import GOVERNORS

if TYPE_CHECKING:
    from explore.config.schema import Case


def refuse_unknown(asked: Mapping[str, Any], listed: Sequence[Variable]) -> None:
    """Raise :class:`InputError` for a name that is no design variable."""
    known = {v.name for v in listed} | set(INPUTS)
    for name in asked:
        if name not in known:
            raise InputError(f"space.{name}: no such design variable; known are {few(INPUTS, name)}")


def bounds(variable: Variable, asked: Any) -> tuple[float, float]:
    """Apply a pin (number) or a narrowing ([low, high]) to a continuous variable."""
    if asked is None and variable.usual is not None:
        return float(variable.usual), float(variable.usual)
    if asked is None:
        return float(variable.low), float(variable.high)
    allowed = f"a number or [low, high] within {variable.low:g} to {variable.high:g} {variable.unit}"
    low, high = _pair(variable.name, asked, allowed)
    if not variable.low <= low <= high <= variable.high:
        raise InputError(
            f"space.{variable.name}={_shown(asked)} is outside what the model covers; allowed is {allowed}"
        )
    return float(low), float(high)


def _pair(name: str, asked: Any, allowed: str) -> tuple[float, float]:
    """Read a number or a [low, high] pair as it stands, for a whole one may be too great for a float; not reversed."""
    ends = [asked, asked] if _is_number(asked) else asked
    pair = isinstance(ends, Sequence) and not isinstance(ends, str) and len(ends) == 2
    if not pair or not all(_is_number(end) for end in ends):
        raise InputError(
            f"space.{name}={_shown(asked)} is neither a number nor a range; allowed is {allowed}"
        )
    if ends[0] > ends[1]:
        raise InputError(f"space.{name}={_shown(asked)} is a reversed range; allowed is {allowed}")
    return ends[0], ends[1]


def regenerators(asked: Any) -> tuple[tuple[bool, ...], tuple[float, float]]:
    """Split the effectiveness into the choice (none or one) and its bounds when there is one."""
    least, most = 0.4, 0.8
    allowed = "0 (none), a number from 0.4 to 0.8, or a range [low, high] of these"
    if asked is None:
        return (False, True), (least, most)
    low, high = _pair("regenerator_effectiveness", asked, allowed)
    present = (max(low, least), min(high, most))
    if low < 0 or high > most or (low > 0 and present[0] > present[1]):
        raise InputError(f"space.regenerator_effectiveness={_shown(asked)} cannot be; allowed is {allowed}")
    if present[0] > present[1]:
        return (False,), (least, most)
    return ((False, True) if low == 0 else (True,)), present


def layouts(
    asked: Mapping[str, Any], one_level: bool = False, governors: Sequence[str] = GOVERNORS
) -> tuple[Layout, ...]:
    """Keep the layouts that agree with the pins on store mode, stages and pressure levels.

    ``one_level`` keeps those with one pressure level, for a space of mixtures only; ``governors`` are those that the
    load allows.
    """
    modes = names("store_mode", asked.get("store_mode"), {mode: mode for mode in STORE_MODES})
    stages = _whole("stages", asked.get("stages"))
    levels = _whole("pressure_levels", asked.get("pressure_levels"))
    governed = names("governing", asked.get("governing"), {name: name for name in governors})
    kept = tuple(
        x
        for x in LAYOUTS
        if x.store_mode in modes
        and x.stages in stages
        and x.pressure_levels in levels
        and (x.store_mode == "stratified" or x.governing in governed)
    )
    if not kept:
        raise InputError(
            "space.store_mode, space.stages and space.pressure_levels leave no layout: "
            "pressure_levels must lie between 1 and stages, and be 1 on a fully mixed store"
        )
    if one_level:
        kept = tuple(x for x in kept if x.pressure_levels == 1)
    if not kept:
        raise InputError("space.pressure_levels must be 1: a mixture boils in one boiler")
    return kept


def _whole(name: str, asked: Any) -> range:
    """Read a pinned or narrowed whole number from 1 to 3."""
    if asked is None:
        return range(1, 4)
    allowed = "a whole number from 1 to 3, or [low, high]"
    low, high = _pair(name, asked, allowed)
    if low != int(low) or high != int(high) or low < 1 or high > 3:
        raise InputError(f"space.{name}={_shown(asked)} cannot be; allowed is {allowed}")
    return range(int(low), int(high) + 1)


def governors(case: Case) -> tuple[str, ...]:
    """Governors that the load allows; with constant losses the speed falls, which changes no figure per kilogram."""
    demand = case.scenario.demand
    if case.engine.losses == "constant":
        return ("speed",)
    may_fall = ("speed",) if demand.speed_may_fall else ()
    return ("throttle", "cut_off", *may_fall, *(("free",) if demand.bank == "day" else ()))


def names(name: str, asked: Any, options: Mapping[str, str]) -> tuple[str, ...]:
    """Read a name or a list of names; ``options`` maps every accepted spelling to the name kept."""
    allowed = f"one or several of {few(options.values(), asked)}"
    if asked is None:
        return tuple(dict.fromkeys(options.values()))
    wanted = [asked] if isinstance(asked, str) else asked
    if not isinstance(wanted, Sequence) or not wanted or not all(isinstance(x, str) for x in wanted):
        raise InputError(
            f"space.{name}={_shown(asked)} is not a name or a list of names; allowed is {allowed}"
        )
    for value in wanted:
        if value not in options:
            raise InputError(
                f"space.{name}={_shown(asked)}: {quoted(value)} is not known; allowed is {allowed}"
            )
    return tuple(dict.fromkeys(options[value] for value in wanted))


def fluids(case: Case, asked: Any) -> tuple[tuple[str, ...], dict[str, str]]:
    """Choose the fluids of a case and give the reason for each one left out.

    Mixtures are searched only where ``scenario.fluids`` or ``asked`` (``space.fluid``) names them. One that the
    model cannot serve is left out; it is an error only where nothing else was asked for.
    """
    listed = case.scenario.fluids or (*case.pure_fluids(), *_mixtures_named(case, asked))
    barred = {name: reason for name in listed if (reason := _barred(case, name))}
    unusable = {name: reason for name in listed if name not in barred and (reason := _fault(case, name))}
    left_out = barred | unusable
    allowed = [name for name in listed if name not in left_out]
    if not allowed:
        raise InputError(f"none of the fluids considered can be used: {by_reason(left_out)}")
    names_of = {stem: card.name for stem, card in case.fluids.items()}
    wanted, owned = _served(asked, names_of, unusable), case.scenario.owned.fluid
    key = "space.fluid" if owned is None or case.space.get("fluid") is not None else "scenario.owned.fluid"
    _explain_left_out(key, wanted, names_of, left_out)
    if key != "space.fluid" and names_of.get(str(owned), owned) not in allowed:
        raise InputError(
            f"{key}={_shown(owned)} is none of scenario.fluids, {few(allowed, owned)}: add it there"
        )
    stems = {stem: name for stem, name in names_of.items() if name in allowed}
    return names("fluid", wanted, {name: name for name in allowed} | stems), left_out


def _mixtures_named(case: Case, asked: Any) -> tuple[str, ...]:
    """Return the mixtures that ``asked`` names, by name or by file name."""
    wanted = asked if isinstance(asked, list | tuple) else [asked]
    return tuple(
        card.name
        for stem, card in case.fluids.items()
        if card.is_mixture and (card.name in wanted or stem in wanted)
    )


def _barred(case: Case, name: str) -> str | None:
    """Return why the scenario does not allow a fluid, None if it does."""
    card, classes = case.card(name), case.scenario.limits.safety_classes
    if classes is not None and card.safety_class not in classes:
        return f"safety class {card.safety_class} is not allowed by the scenario ({', '.join(classes)})"
    clashes = hazards.material_clashes(card, case.scenario.materials)
    return f"attacks {' and '.join(clashes)} of scenario.materials" if clashes else None


def _fault(case: Case, name: str) -> str | None:
    """Return why the model cannot serve a mixture; None if it can, and for a pure fluid."""
    from explore.fluids import mixture_tables
    from explore.fluids.blend import Blend

    substance = case.card(name).substance
    if not isinstance(substance, Blend):
        return None
    return case.unsized(name) or mixture_tables.fault(substance)


def by_reason(left_out: Mapping[str, str]) -> str:
    """Write fluids left out and why, those of one reason together.

    >>> by_reason({"n-Butane": "class A3", "Ammonia": "class B2L", "n-Pentane": "class A3"})
    'n-Butane, n-Pentane: class A3; Ammonia: class B2L'
    """
    groups: dict[str, list[str]] = {}
    for name, reason in left_out.items():
        groups.setdefault(reason, []).append(name)
    return "; ".join(f"{', '.join(names)}: {reason}" for reason, names in groups.items())


def _served(asked: Any, names_of: Mapping[str, str], unusable: Mapping[str, str]) -> Any:
    """Take unusable mixtures from a list of fluids that holds others too."""
    if not isinstance(asked, list | tuple):
        return asked
    return [x for x in asked if not (isinstance(x, str) and names_of.get(x, x) in unusable)] or asked


def _explain_left_out(key: str, asked: Any, names_of: Mapping[str, str], left_out: Mapping[str, str]) -> None:
    wanted = asked if isinstance(asked, list | tuple) else [asked]
    for name in wanted:
        meant = names_of.get(name, name) if isinstance(name, str) else None
        if meant is not None and meant in left_out:
            raise InputError(f"{key}: {meant} cannot be used: {left_out[meant]}")


def _is_number(value: Any) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    return isinstance(value, int) and not isinstance(value, bool)


def _shown(value: Any) -> str:
    """Write what was asked for as one types it, shortened."""
    if isinstance(value, list | tuple):
        return shortened(f"[{', '.join(map(_shown, value))}]")
    return shortened(value) if isinstance(value, str) else quoted(value)
