"""What a fit leaves for other commands: fitted.yaml, an overlay of coefficients and the bands that are left of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from explore.bench.fit import GROUPS, Coefficient, Fit, topic
from explore.bench.plant import TUBE_FILMS
from explore.config.doubtful import doubtful
from explore.config.engine import Engine
from explore.config.tubes import Exchangers

if TYPE_CHECKING:
    from explore.config.schema import Case

LAWS = ("wall_law", "leak_law")
"""Settings under which the coefficients were fitted; they go along where they are not the default."""
DIGITS = 6
"""Significant digits of what is written: finer than any bench."""


def overlay(fit: Fit, case: Case) -> dict[str, Any]:
    """Return the overlay as plain data: fitted coefficients, and what the ``case`` of the fit had that is no default.

    Of what is not identified its own value and band are written if the case had any, of what this log is not about too:
    an earlier log may have told them.
    """
    default = Engine()
    engine: dict[str, Any] = {
        name: getattr(fit.engine, name)
        for name in LAWS
        if getattr(fit.engine, name) != getattr(default, name)
    }
    exchangers = _exchangers(fit)
    bands = {}
    told = {one.item.name: one for one in fit.identified()}
    for item in doubtful(case):
        name = item.name
        of_tubes = name == TUBE_FILMS
        if not (of_tubes or item.place[0] == "engine") or topic(item) not in GROUPS:
            continue
        if name in told:
            if not of_tubes:
                engine[name] = _short(told[name].fitted[0])
            bands[name] = [_short(end) for end in told[name].band]
            continue
        if not of_tubes and getattr(fit.engine, name) != getattr(default, name):
            engine[name] = _short(getattr(fit.engine, name))
        if name in case.doubt.bands:
            bands[name] = [_short(end) for end in case.doubt.bands[name]]
    return {"engine": engine, **exchangers, "doubt": {"bands": bands}}


def _exchangers(fit: Fit) -> dict[str, dict[str, Any]]:
    """Return the factor on films of tubes where it is told, or was, with the setting under which it counts."""
    factor = getattr(fit.exchangers, TUBE_FILMS)
    told = any(one.item.name == TUBE_FILMS for one in fit.identified())
    if not told and factor == getattr(Exchangers(), TUBE_FILMS):
        return {}
    return {"exchangers": {"method": fit.exchangers.method, TUBE_FILMS: _short(factor)}}


def _short(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def text(fit: Fit, log: str, machine: str, case: Case) -> str:
    """Return the overlay as commented YAML; ``case`` is that of the fit."""
    made = overlay(fit, case)
    named = {one.item.name: one for one in fit.coefficients}
    lines = [
        f"# What the log {_plain(log)} says of {_plain(machine)}: explore ... fitted=THIS_FILE.yaml.",
        "# engine: coefficients in place of the assumed ones. doubt.bands: 10-90 % ranges that are left.",
        "engine:" if made["engine"] else "engine: {}",
    ]
    for group in ("engine", "exchangers"):
        if group == "exchangers" and group in made:
            lines.append(
                "exchangers: # made of tubes: their one coefficient, on all films that correlations give"
            )
        for name, value in made.get(group, {}).items():
            one = named.get(name)
            told = f" # {_interval(one)}" if one and one.identified else ""
            lines.append(f"  {name}: {value}{told}")
    lines += ["doubt:", "  bands:" if made["doubt"]["bands"] else "  bands: {}"]
    lines += [f"    {name}: [{low}, {high}]" for name, (low, high) in made["doubt"]["bands"].items()]
    missing = [one.item.name for one in fit.coefficients if not one.identified]
    if missing:
        lines.append(f"# not identified, as before: {', '.join(missing)}")
    return "\n".join(lines) + "\n"


def _interval(one: Coefficient) -> str:
    low, high = (f"{end:.4g}" for end in one.fitted[1:])
    if one.edge:
        return (
            f"the edge of its band: {high if one.edge < 0 else low} or {'less' if one.edge < 0 else 'more'}"
        )
    return f"{low} to {high} (90 %)"


def _plain(name: str) -> str:
    """A file's name as it may stand in a comment: one line of printable signs."""
    return "".join(sign if sign.isprintable() else "?" for sign in name)[:200]
