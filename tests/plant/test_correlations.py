"""Correlations of films and pressure drops: equal to outside ones, and none of their constants can be changed unseen."""

import ast
import inspect
from types import ModuleType, SimpleNamespace

import numpy as np
import pytest

from explore.plant.correlations import boiling, condensation, drop, single_phase
from explore.plant.correlations.validity import as_table, outside, told, worst
from tests.plant import correlation_grid as grid

MODULES = {"single_phase": single_phase, "boiling": boiling, "condensation": condensation, "drop": drop}
ELSEWHERE = {
    "(LAMINAR_END, TURBULENT_START)", "LAMINAR_TUBE", "HIGHEST_GORENFLO", "GORENFLO_H0", "friction_factor",
    "annulus_laminar_friction", "in_tube", "pool",
}  # fmt: skip
"""Names whose constants are tested by themselves below, or only keep a division from failing."""


def code(**changed: ModuleType) -> SimpleNamespace:
    """Return the modules of correlations, some of them replaced."""
    return SimpleNamespace(**(MODULES | changed))


@pytest.mark.parametrize("name", list(grid.ours(code())))
def test_equals_the_outside_function(name):
    """Each correlation gives what ht, fluids or the source's table gives, far within 0.5 %."""
    assert grid.excesses(code())[name] <= 1.0


def constants(module: ModuleType) -> list[tuple[str, int]]:
    """List the numbers of a module's formulas: the function or name they stand in, and their place there."""
    found = []
    for node in ast.parse(inspect.getsource(module)).body:
        name = node.name if isinstance(node, ast.FunctionDef) else _target(node)
        if name and name not in ELSEWHERE:
            found += [(name, place) for place in range(len(_numbers(node)))]
    return found


def _target(node: ast.stmt) -> str:
    if isinstance(node, ast.Assign):
        return ast.unparse(node.targets[0])
    return ""


def _numbers(node: ast.stmt) -> list[ast.Constant]:
    numbers = [n for n in ast.walk(node) if isinstance(n, ast.Constant) and type(n.value) in (int, float)]
    return [n for n in numbers if n.value not in (0, 0.0)]


def altered(module: ModuleType, name: str, place: int, factor: float = 1.01) -> ModuleType:
    """Return the module with one of its numbers multiplied."""
    tree = ast.parse(inspect.getsource(module))
    for node in tree.body:
        if (isinstance(node, ast.FunctionDef) and node.name == name) or _target(node) == name:
            number = _numbers(node)[place]
            number.value = number.value * factor
    other = ModuleType(module.__name__)
    exec(compile(tree, name, "exec"), other.__dict__)
    return other


@pytest.mark.parametrize(
    ("module", "name", "place"), [(m, *c) for m in MODULES for c in constants(MODULES[m])], ids=str
)
def test_every_constant_matters(module, name, place):
    """A factor or exponent that is one per cent off is found by the comparison with outside functions."""
    with np.errstate(all="ignore"):
        found = grid.excesses(code(**{module: altered(MODULES[module], name, place)}))
    assert not max(found.values()) <= 1.0


def test_laminar_turbulent_and_between():
    """Up to Re 2300 flow is laminar (64/Re, Nu 3.66), from 4000 turbulent, linear between."""
    Re = np.array([1000.0, 2300.0, 3150.0, 4000.0])
    np.testing.assert_allclose(single_phase.turbulence(Re), [0.0, 0.0, 0.5, 1.0])
    f = single_phase.friction_factor(Re, 0.0)
    np.testing.assert_allclose(f[:2], [0.064, 64.0 / 2300.0])
    np.testing.assert_allclose(f[2], 0.5 * (64.0 / 2300.0 + f[3]))
    Nu = single_phase.tube_nusselt(Re, np.full(4, 5.0), 0.0)
    np.testing.assert_allclose(Nu[:3], [3.66, 3.66, 0.5 * (3.66 + Nu[3])])


def test_gorenflo_gives_way_to_cooper():
    """Without a reference coefficient, or above p* 0.5 where it is larger, Cooper's value is taken."""
    q, p, mass = np.full(3, 2e4), np.array([0.1, 0.1, 0.65]), np.full(3, 0.102)
    reference = np.array([4500.0, np.nan, 4500.0])
    h, _ = boiling.pool(q, p, mass, reference, np.zeros(3, bool))
    plain, _ = boiling.cooper(q, p, mass)
    own, _ = boiling.gorenflo(q, p, np.full(3, 4500.0))
    np.testing.assert_allclose(h, [own[0], plain[1], plain[2]])
    assert own[2] > plain[2]


def test_condensation_takes_shear_or_gravity():
    """The larger of Shah's and Chato's coefficient counts, with the exponent of the one that does."""
    s, flux = grid.STATE, np.full(4, 4e3)
    h, exponent = condensation.in_tube(flux, grid.QUALITY, grid.MASS_FLUX, grid.DIAMETER, s, grid.REDUCED)
    sheared = condensation.shah(grid.QUALITY, grid.MASS_FLUX, grid.DIAMETER, s, grid.REDUCED)
    falling = condensation.film_by_flux(flux, grid.DIAMETER, s, condensation.HORIZONTAL_TUBE)
    np.testing.assert_allclose(h, np.maximum(sheared, falling))
    assert set(exponent[falling > sheared]) == {-1.0 / 3.0}
    assert set(exponent[falling <= sheared]) == {0.0}


@pytest.mark.parametrize("name", ["cooper", "liu_winterton", "gorenflo"])
def test_exponent_is_the_slope(name):
    """What boiling films give as d ln h / d ln q is the slope of their coefficient."""

    def film(q: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        mass = np.full(4, grid.MOLAR_MASS)
        if name == "cooper":
            return boiling.cooper(q, grid.REDUCED, mass)
        if name == "gorenflo":
            return boiling.gorenflo(q, grid.REDUCED, np.full(4, 3600.0))
        return boiling.liu_winterton(
            q, grid.QUALITY, grid.MASS_FLUX, grid.DIAMETER, grid.STATE, grid.REDUCED, mass
        )

    slope = np.log(film(grid.FLUX * 1.0001)[0] / film(grid.FLUX)[0]) / np.log(1.0001)
    np.testing.assert_allclose(film(grid.FLUX)[1], slope, rtol=1e-3)


def test_excess_is_relative_and_has_a_side():
    """A fifth above the highest value is 0.2, half of the least is -0.5, inside is nothing; all is told in words."""
    found = outside("Shah", mass_flux=np.array([210.6 * 1.2, 10.83 / 2.0, 100.0]))
    table = as_table(found, 3)
    np.testing.assert_allclose(found[("Shah", "mass flux")], [0.2, -0.5, 0.0])
    words = told(table)
    assert words[0] == "Shah: mass flux 253 above 211 kg/(m2 s)"
    assert words[1] == "Shah: mass flux 5.42 below 10.8 kg/(m2 s)"
    assert words[2] == ""
    other = outside("Shah", mass_flux=np.array([100.0, 5e3, 100.0]))
    np.testing.assert_allclose(worst([found, other])[("Shah", "mass flux")][1], 5e3 / 210.6 - 1.0)
