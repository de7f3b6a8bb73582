"""What the schema alone cannot see is wrong with a configuration, each in one sentence."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from explore.config.doubtful import refuse_bad_doubts
from explore.config.doubts import Doubt
from explore.config.explain import closest
from explore.config.fields import idle
from explore.config.files import config_folder
from explore.config.schema import Case, Engine, is_own_sampler
from explore.config.tubes import Exchangers
from explore.errors import InputError, few, quoted

VERSION = 1
"""Of a run's config.yaml; from 1 on its weather is shipped with pvlib or a file in the run's own folder."""


def refuse_newer(version: Any) -> None:
    """Raise :class:`InputError` for a version of a run's configuration that this program does not know."""
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise InputError(
            f"version: {quoted(str(version))} is none; a whole number from 1 to {VERSION} is expected"
        )
    if version > VERSION:
        raise InputError(
            f"version {quoted(version)} of a run's configuration is newer than version {VERSION}, "
            "which this program reads; take the program that wrote it"
        )


def refuse_unfit(case: Case) -> None:
    """Raise :class:`InputError` for values that fit their fields and not each other, or that nothing is known of."""
    _refuse_idle_values("engine", case.engine)
    _refuse_idle_values("exchangers", case.exchangers)
    _refuse_unserved_fluids(case)
    _refuse_unknown_components(case)
    _refuse_unknown_materials(case)
    _ask_for_room(case)
    if case.doubt != Doubt():
        refuse_bad_doubts(case)


def _refuse_idle_values(group: str, values: Engine | Exchangers) -> None:
    """Raise :class:`InputError` for a value that was changed and counts only under other settings of its group."""
    for name, wanted in idle(values).items():
        now = " ".join(f"{group}.{setting}={getattr(values, setting)}" for setting in wanted)
        other = " ".join(f"{group}.{setting}={value}" for setting, value in wanted.items())
        own = type(values).model_fields[name].default
        raise InputError(
            f"{group}.{name}={getattr(values, name)} does not count with {now}; write {other} as well, "
            f"or leave it at {own}"
        )


def _refuse_unknown_materials(case: Case) -> None:
    """Raise :class:`InputError` for a material of which neither walls nor what attacks it are known."""
    from explore.judgement.hazards import CONSTITUENTS
    from explore.judgement.vessels import MATERIALS

    parts = [part for alloy in CONSTITUENTS.values() for part in alloy]
    attacked = [material for card in case.fluids.values() for material in card.attacks]
    known = sorted({material.casefold() for material in (*MATERIALS, *CONSTITUENTS, *parts, *attacked)})
    for material in case.scenario.materials:
        if material.casefold() not in known:
            near = closest(material.casefold(), known)
            raise InputError(
                f"scenario.materials: {quoted(material)} is not known{near}; known are {few(known, material)}"
            )


def _ask_for_room(case: Case) -> None:
    """Raise :class:`InputError` if a fluid that may be used burns and nobody has said what room it stands in.

    ``space.fluid`` narrows only what is searched: designs of one's own on the scenario's other fluids are judged too.
    """
    scenario, asked = case.scenario, case.asked.get("fluid")
    if "room_volume_m3" in scenario.model_fields_set:
        return
    wanted = asked if isinstance(asked, list | tuple) else [asked]
    named = [card.name for stem, card in case.fluids.items() if stem in wanted or card.name in wanted]
    classes = scenario.limits.safety_classes
    for name in scenario.fluids or (*case.pure_fluids(), *named):
        card = case.card(name)
        if card.flammable and (classes is None or card.safety_class in classes):
            raise InputError(
                f"scenario.room_volume_m3 is missing in scenario {scenario.name}: {name} burns, and the room limits how "
                "much of it the plant may hold; give the volume of the room in m3, or null for a plant outdoors"
            )


def _refuse_unserved_fluids(case: Case) -> None:
    """Raise :class:`InputError` for a pure fluid that CoolProp lacks, or that cannot boil and condense here.

    Shipped cards are held by a test and need no asking, which spares loading CoolProp.
    """
    for stem, card in case.fluids.items():
        if card.is_mixture or _is_shipped(stem, card.name):
            continue
        from explore.fluids.blend import equation_names, is_known, no_boiling_range

        if not is_known(card.name):
            near = closest(
                card.name, [name for name in (*case.pure_fluids(), *equation_names()) if name != card.name]
            )
            raise InputError(f"fluids.{stem}.name: CoolProp has no fluid {quoted(card.name)}{near}")
        if reason := no_boiling_range(card.name):
            raise InputError(f"fluids.{stem}.name: {card.name} cannot be a working fluid here: {reason}")


def _is_shipped(stem: str, name: str) -> bool:
    """Tell whether a card of the configs folder gives this fluid."""
    try:
        text = (config_folder() / "fluid" / f"{stem}.yaml").read_text(encoding="utf-8")
    except OSError:
        return False
    return re.search(rf"^name: *['\"]?{re.escape(name)}['\"]? *(#.*)?$", text, re.MULTILINE) is not None


def _refuse_unknown_components(case: Case) -> None:
    """Raise :class:`InputError` for a component of a mixture, or of a bottle's range, that CoolProp lacks.

    Names of pure fluids of the catalogue need no asking, which spares loading CoolProp.
    """
    from explore.fluids.blend import equation_names, is_known

    pure = case.pure_fluids()
    for stem, card in case.fluids.items():
        for field in ("components", "composition_range"):
            for name in getattr(card, field) or ():
                if name not in pure and not is_known(name):
                    near = closest(name, [*pure, *equation_names()])
                    raise InputError(f"fluids.{stem}.{field}: CoolProp has no fluid {quoted(name)}{near}")


def named_fluids(config: Mapping[str, Any]) -> Mapping[str, Any]:
    """Accept a card's file name (R1234zeE) in scenario.fluids, where its fluid (R1234ze(E)) is meant."""
    catalogue, scenario = config.get("fluids"), config.get("scenario")
    if not isinstance(catalogue, Mapping) or not isinstance(scenario, Mapping):
        return config  # the schema says what is wrong
    asked = scenario.get("fluids")
    if not isinstance(asked, list | tuple):
        return config
    cards = {stem: card for stem, card in catalogue.items() if isinstance(card, Mapping)}
    names = {stem: card.get("name", stem) for stem, card in cards.items()}
    pure = [name for stem, name in names.items() if not cards[stem].get("components")]
    return {**config, "scenario": {**scenario, "fluids": [_named(fluid, names, pure) for fluid in asked]}}


def _named(given: Any, names: Mapping[str, str], pure: Sequence[str]) -> Any:
    if not isinstance(given, str) or given in names.values():
        return given
    if given in names:
        return names[given]
    near = closest(given, pure) or closest(given, [*names.values(), *names])
    raise InputError(
        f"scenario.fluids: {quoted(given)} has no card in configs/fluid{near}; known are {few(names, given)}; "
        "-cd FOLDER adds those of FOLDER/fluid"
    )


def refuse_unnamed_sampler(config: Mapping[str, Any], typed: Iterable[str], where: str) -> None:
    """Raise :class:`InputError` if a folder's configuration names a class as sampler that was not typed as well.

    A class is code to import, and a folder may be a stranger's.
    """
    search = config.get("search")
    name = str(search.get("sampler", "")) if isinstance(search, Mapping) else ""
    if is_own_sampler(name) and not any(word.lstrip("+").startswith("search.sampler=") for word in typed):
        raise InputError(
            f"{where}: its configuration names the sampler {name[:80]}, a class, and a folder's word is not taken for "
            "what to import; name it again with search.sampler=..."
        )
