"""The layers: what each module may import, found by parsing the source."""

from __future__ import annotations

import ast
import functools
from pathlib import Path

import pytest

import explore

PACKAGE = Path(explore.__file__).parent
MODULES = {
    path.relative_to(PACKAGE).with_suffix("").as_posix().removesuffix("/__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}
# From first to last: a module imports from its own layer or an earlier one. Names of folders stand for
# all modules within that have no place of their own.
LAYERS = (
    (
        "errors",
        "units",
        "whole_file",
        "cache",
        "machine_code",
        "second_process",
        "judgement/severity",
        "judgement/safety_class",
    ),
    ("fluids",),
    ("plant",),
    ("year",),
    ("judgement/bill", "judgement/vessels", "judgement/hazards", "judgement/cautions"),
    ("figures/record", "design/variables"),
    ("figures",),
    ("config",),
    ("design",),
    ("cycle",),
    ("judgement", "model"),
    ("search",),
    ("run",),
    ("verify",),
    ("doubt",),
    ("bench",),
    ("tell",),
    ("tasks", "notebook", "command", "cli", "__main__", "__init__"),
)
PHYSICS = ("fluids", "plant", "year", "cycle", *LAYERS[4])


def layer(module: str) -> int:
    """Return the place of ``module`` (``plant/boiler``) in the order of the layers."""
    name = module
    while True:
        places = [place for place, names in enumerate(LAYERS) if name in names]
        if places or "/" not in name:
            break
        name = name.rpartition("/")[0]
    assert len(places) == 1, f"give {module} its place in LAYERS"
    return places[0]


def within(module: str, names: tuple[str, ...]) -> bool:
    """Tell whether a module is one of ``names`` or lies in a folder of that name."""
    return any(module == name or module.startswith(name + "/") for name in names)


@functools.cache
def imports(path: Path) -> list[tuple[str, bool]]:
    """List what a source file imports: dotted name, and whether only for type checking."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(node)
        for block in ast.walk(tree)
        if isinstance(block, ast.If) and "TYPE_CHECKING" in ast.dump(block.test)
        for node in ast.walk(block)
    }
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, id(node) in typing_only) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found += [(name, id(node) in typing_only) for name in names]
    return found


def own(name: str) -> str | None:
    """Return the module of this package that a dotted import names, or None."""
    parts = name.split(".")
    if parts[0] != "explore":
        return None
    for end in range(len(parts), 1, -1):
        module = "/".join(parts[1:end])
        if module in MODULES or module.split("/")[0] in MODULES:
            return module
    return "__init__"


def used(module: str, *, typing_too: bool = False) -> list[str]:
    """List the dotted names ``module`` imports at run time."""
    return [name for name, typing_only in imports(MODULES[module]) if typing_too or not typing_only]


@pytest.mark.parametrize("module", [name for name in MODULES if name != "__init__"])
def test_imports_go_one_way(module):
    """A module imports from its own layer or from an earlier one, never from a later one."""
    for name in used(module):
        target = own(name)
        if target is not None and target != "__init__":
            assert layer(target) <= layer(module), f"{module} imports {target}"


def circles() -> list[str]:
    """List the import circles, each as its modules in order; imports inside functions and for typing count."""
    ahead = {
        module: {own_module(name) for name in used(module, typing_too=True)} - {None, module}
        for module in MODULES
        if module != "__init__"
    }
    found, cleared = [], set()

    def follow(module: str, path: list[str]) -> None:
        if module in path:
            found.append(" -> ".join([*path[path.index(module) :], module]))
        elif module not in cleared:
            for target in sorted(ahead.get(module, ())):
                follow(target, [*path, module])
            cleared.add(module)

    for module in sorted(ahead):
        follow(module, [])
    return found


def own_module(name: str) -> str | None:
    """Return the file of this package that a dotted import reads (``fluids/blend``), or None."""
    parts = name.split(".")[1:] if name.startswith("explore.") else []
    ends = ("/".join(parts[:end]) for end in range(len(parts), 0, -1))
    return next((module for module in ends if module in MODULES), None)


def test_no_import_circle():
    """No module reaches itself through what it imports, at its top, inside a function or for typing."""
    assert circles() == []


def test_a_circle_is_seen(monkeypatch, tmp_path):
    """Two modules that import each other, one of them inside a function only, are named."""
    (tmp_path / "one.py").write_text("from explore.two import b\n")
    (tmp_path / "two.py").write_text("def b():\n    from explore import one\n    return one\n")
    monkeypatch.setattr(f"{__name__}.MODULES", {"one": tmp_path / "one.py", "two": tmp_path / "two.py"})
    assert circles() == ["one -> two -> one"]


@pytest.mark.parametrize(
    ("library", "home"),
    [
        ("CoolProp", "fluids"),
        ("numba", "machine_code"),
        ("optuna", "search"),
        ("SALib", "doubt"),
        ("plotly", "tell"),
        ("markdown_it", "tell"),
        ("ezdxf", "bench"),
    ],
)
def test_one_home_for_each_library(library, home):
    """One folder alone imports CoolProp, one alone numba, one alone Optuna, one alone SALib, one alone plotly,
    one alone the Markdown parser, one alone the drawings' library."""
    users = {
        module.split("/")[0]
        for module in MODULES
        if any(name.split(".")[0] == library for name in used(module, typing_too=True))
    }
    assert users <= {home}


def test_physics_sees_no_configuration():
    """Fluids, components, cycle, season, bill and hazards import no Hydra, no Optuna, nothing of the configuration."""
    barred = {"hydra", "omegaconf", "optuna", "pydantic"}
    for module in MODULES:
        if within(module, PHYSICS):
            for name in used(module):
                assert name.split(".")[0] not in barred, f"{module} imports {name}"
                assert not f"{name}.".startswith("explore.config."), f"{module} imports {name}"


def test_report_reads_results_only():
    """The report imports no model: results reach it as files."""
    models = (*PHYSICS, "model", "design/space", "search", "doubt", "bench")
    for module in MODULES:
        if within(module, ("tell/page",)):
            for name in used(module):
                target = own(name)
                assert target is None or not within(target, models), f"{module} imports {name}"


def test_heavy_libraries_stay_off_the_start_path():
    """Modules that every command loads import heavy libraries only inside the functions that need them."""
    heavy = {"numba", "pandas", "optuna", "plotly", "scipy", "pvlib", "CoolProp", "moocore"}
    for module in (
        "__init__",
        "__main__",
        "cli",
        "tasks/registry",
        "tasks/usage",
        "config/tasks",
        "config/compose",
        "config/explain",
        "config/schema",
        "errors",
    ):
        tree = ast.parse(MODULES[module].read_text(encoding="utf-8"))
        tops = [alias.name for node in tree.body if isinstance(node, ast.Import) for alias in node.names]
        tops += [node.module or "" for node in tree.body if isinstance(node, ast.ImportFrom)]
        assert not heavy & {name.split(".")[0] for name in tops}
