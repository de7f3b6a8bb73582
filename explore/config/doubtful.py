"""Every assumption that is doubtful: its 10-90 % range, shape and group, read from where its default stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import inf, sqrt
from typing import TYPE_CHECKING, Any

from explore.config import fields
from explore.config.explain import closest
from explore.errors import InputError, few

if TYPE_CHECKING:
    from pydantic import BaseModel
    from pydantic.fields import FieldInfo

    from explore.config.schema import Case

LAWS = ("wall_law", "leak_law")
"""Settings of the engine that are in doubt themselves: a world has one law or the other."""
GROUPS = ("engine", "costs", "site", "exchangers")
"""Where values in doubt stand that a world has others of."""
CARDS = {"collectors": "collector", "fluids": "fluid"}
"""Cards whose values a world multiplies by one factor for all, and what the factor's name begins with."""
GLASS = "clean_glass_factor"
WITHIN = 1e-6
"""Distance from a bound that is excluded: far below any value that has one here."""


@dataclass(frozen=True)
class Doubtful:
    """One assumption in doubt.

    Half of its draws lie below ``likely``, a tenth below ``low`` and a tenth above ``high``; none beyond ``least`` and
    ``most``. They are lognormal from ``edge`` on, on either side; without an edge they are normal. ``place`` is where it
    stands in a case: group and key. ``worse`` is +1 where more of it is worse for the plant, -1 where less is.
    """

    name: str
    place: tuple[str, str]
    low: float
    likely: float
    high: float
    edge: float | None
    least: float
    most: float
    group: str
    worse: int
    law: str = ""
    """the law whose choice decides whether it counts, empty where it always does"""


def doubtful(case: Case) -> tuple[Doubtful, ...]:
    """List what is in doubt in a case, in the order of the schema.

    Raises :class:`InputError` for a band of the user's that cannot be.
    """
    found = [*_found(case)]
    _refuse_unknown(case, [one.name for one in found])
    narrowed = [_narrowed(one, case.doubt.bands.get(one.name)) for one in found]
    return tuple(one for one in narrowed if one.low < one.high)


def groups(items: tuple[Doubtful, ...]) -> tuple[str, ...]:
    """Return the groups of ``items``, each once, in their order."""
    return tuple(dict.fromkeys(one.group for one in items))


def refuse_bad_doubts(case: Case) -> None:
    """Raise :class:`InputError` for bands or correlations that cannot be."""
    matrix(case, groups(doubtful(case)))


def matrix(case: Case, names: tuple[str, ...]) -> list[list[float]]:
    """Return the correlation matrix of the groups ``names``, towards worse together.

    Raises :class:`InputError` for a group that there is not, a number beyond -1 to 1, and a matrix that is not
    positive definite.
    """
    import numpy as np

    everything = {_plain(one.group): one.group for one in _found(case, idle=True)}
    found = np.eye(len(names))
    for first, others in case.doubt.correlations.items():
        for second, number in others.items():
            for name in (first, second):
                if _plain(name) not in everything:
                    raise InputError(
                        f"doubt.correlations: there is no group {name[:60]!r}{closest(_plain(name), everything)}; known "
                        f"are {few(everything, _plain(name))}"
                    )
            if not -1.0 < number < 1.0 or _plain(first) == _plain(second):
                raise InputError(
                    f"doubt.correlations.{first}.{second}={number:g}: a correlation of two groups lies between -1 and 1"
                )
            pair = [everything[_plain(name)] for name in (first, second)]
            if all(name in names for name in pair):
                i, j = (names.index(name) for name in pair)
                found[i, j] = found[j, i] = number
    try:
        np.linalg.cholesky(found)
    except np.linalg.LinAlgError as error:
        raise InputError(
            "doubt.correlations: the groups cannot go together as given (the matrix is not positive definite); bring the "
            "numbers nearer to 0"
        ) from error
    rows: list[list[float]] = found.tolist()
    return rows


def _plain(name: str) -> str:
    return name.replace(" ", "_").replace("-", "_")


def _found(case: Case, *, idle: bool = False) -> Iterator[Doubtful]:
    """Everything with a band, before the user's own bands; one that is nothing (a loss of 0) has a band of no width.

    With ``idle`` those too that do not count under the settings of the case.
    """
    for group in GROUPS:
        values = holder(case, group)
        for name, field in type(values).model_fields.items():
            extra = _extra(field)
            if "group" in extra and (idle or counts(case, group, name)):
                yield _about(name, (group, name), field, float(getattr(values, name)))
    for group, begin in CARDS.items():
        cards: Mapping[str, BaseModel] = getattr(case, group)
        for name, field in type(next(iter(cards.values()))).model_fields.items():
            if "group" in _extra(field):
                yield _factor(f"{begin}_{name.partition('_EUR')[0]}_factor", (group, name), field)
    # Section 12 of the model: a collector's glass passes 0.92 to 1.0 of what clean glass does, never more.
    yield Doubtful(GLASS, ("collectors", "eta0"), 0.92, 0.96, 1.0, None, 0.0, 1.0, "sun", -1)


def holder(case: Case, group: str) -> BaseModel:
    """Return the group of a case that holds the values of one of :data:`GROUPS`."""
    found: BaseModel = case.scenario.site if group == "site" else getattr(case, group)
    return found


def counts(case: Case, group: str, name: str, *, laws: bool = False) -> bool:
    """Whether a value counts under the settings of a case; whichever of the doubtful laws it has, unless ``laws`` count."""
    against = _against(case, group, name)
    return not any(laws or setting.rpartition(".")[2] not in LAWS for setting in against)


def _against(case: Case, group: str, name: str) -> list[str]:
    """List the settings that keep a value from counting, those of the exchangers among them."""
    values, method = holder(case, group), case.exchangers.method
    wanted = _extra(type(values).model_fields[name]).get("exchangers", method)
    others = [f"{group}.{setting}" for setting in fields.against(values, name)]
    return [*others, *(["exchangers.method"] if wanted != method else [])]


def _setting(case: Case, place: str) -> Any:
    group, _, name = place.partition(".")
    return getattr(holder(case, group), name)


def _about(name: str, place: tuple[str, str], field: FieldInfo, value: float) -> Doubtful:
    extra = _extra(field)
    edge: float | None = extra["edge"]
    if "spread" in extra:
        low, high = (value + step for step in extra["spread"])
    else:
        base, default = edge or 0.0, float(field.get_default())
        low, high = (base + (end - base) / (default - base) * (value - base) for end in extra["band"])
    if edge is not None and value == edge:
        low = high = value
    least, most = _bounds(field)
    low, high = max(low, least), min(high, most)
    law = next((setting for setting in extra.get("only", {}) if setting in LAWS), "")
    return Doubtful(name, place, low, value, high, edge, least, most, extra["group"], _worse(extra), law)


def _factor(name: str, place: tuple[str, str], field: FieldInfo) -> Doubtful:
    """Make what multiplies a value of all cards."""
    extra = _extra(field)
    low, high = extra["times"]
    return Doubtful(name, place, low, 1.0, high, 0.0, 0.0, inf, extra["group"], _worse(extra))


def _worse(extra: Mapping[str, Any]) -> int:
    return 1 if extra["worse"] == "high" else -1


def _extra(field: FieldInfo) -> Mapping[str, Any]:
    return field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}


def _bounds(field: FieldInfo) -> tuple[float, float]:
    """Return the least and the greatest value a field may have, a little within those that it may not reach."""
    ends: dict[str, list[float]] = {
        kind: [float(getattr(one, kind)) for one in field.metadata if hasattr(one, kind)]
        for kind in ("ge", "gt", "le", "lt")
    }
    least = [*ends["ge"], *(end + WITHIN for end in ends["gt"])]
    most = [*ends["le"], *(end - WITHIN for end in ends["lt"])]
    return max(least, default=-inf), min(most, default=inf)


def _refuse_unknown(case: Case, known: list[str]) -> None:
    for name in case.doubt.bands:
        if name not in known:
            for one in _found(case, idle=True):
                if one.name == name:
                    now = " and ".join(f"{at}={_setting(case, at)}" for at in _against(case, *one.place))
                    raise InputError(
                        f"doubt.bands.{name}: it does not count with {now}; leave it away, or take its line out of "
                        "the file of fitted="
                    )
            raise InputError(
                f"doubt.bands.{name[:60]}: no assumption of this name is in doubt here{closest(name, known)}"
            )


def _narrowed(one: Doubtful, band: tuple[float, float] | None) -> Doubtful:
    """Put a user's band in the place of the schema's; where it does not hold the value set, its middle counts."""
    if band is None:
        return one
    low, high = band
    where = f"doubt.bands.{one.name}=[{low:g}, {high:g}]"
    if low >= high:
        raise InputError(f"{where}: crossed or empty; write [low, high] with the lower end first")
    if low < one.least or high > one.most:
        raise InputError(f"{where}: the value can only lie from {one.least:g} to {one.most:g}")
    base = one.edge
    if base is not None and (low - base) * (high - base) <= 0.0:
        raise InputError(f"{where}: both ends must lie on one side of {base:g}, and not on it")
    if low < one.likely < high:
        return replace(one, low=low, high=high)
    if base is None:
        return replace(one, low=low, likely=0.5 * (low + high), high=high)
    middle = sqrt((low - base) * (high - base))
    return replace(one, low=low, likely=base + (middle if low > base else -middle), high=high)
