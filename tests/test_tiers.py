"""The quick tier: a rule over files and fixtures, which names only what is there."""

from __future__ import annotations

from pathlib import Path

from tests.tiers import HEAVY, SLOW, is_quick, ranks

pytest_plugins = ["pytester"]
HERE = Path(__file__).parent


def test_every_slow_file_is_there():
    """What was moved or given another name is named anew, or it would be quick unseen."""
    for name in SLOW:
        file, _, test = name.partition("::")
        assert (HERE / f"{file}.py").is_file(), name
        assert f"def {test}(" in (HERE / f"{file}.py").read_text(encoding="utf-8") or not test, name


def test_what_opens_a_run_or_a_browser_is_not_quick():
    """Whatever its file; all else of a file that nobody named is."""
    assert is_quick("test_new", "test_it", {"orchard", "tmp_path"})
    assert not is_quick("test_cli", "test_it", ())
    slow = next(name for name in SLOW if "::" in name)
    file, _, test = slow.partition("::")
    assert not is_quick(file, test, ())
    assert is_quick(file, "test_another", ())
    for one in HEAVY:
        assert not is_quick("test_new", "test_it", {"tmp_path", one})


def test_long_files_come_first_and_nobody_waits_for_the_search():
    """One that opens the real run, long ones that do not, the others that do, short ones: each kind as it was collected."""
    slow = {"a": False, "b": True, "c": True, "d": False, "e": True, "f": True}
    rank = ranks(slow, {"c", "d", "f"})
    assert sorted(slow, key=rank.get) == ["c", "b", "e", "f", "a", "d"]
    assert set(ranks({"a": False, "b": False}, {"a"}).values()) == {3}


def test_workers_take_files_in_this_order(request):
    """In a session whose workers are many: pytest-xdist puts no order of its own in its place."""
    assert request.config.option.loadscopereorder is False


def test_the_mark_is_never_set_by_hand():
    """The rule alone sets it."""
    hand = "pytest.mark." + "quick"
    found = [file.name for file in HERE.rglob("*.py") if hand in file.read_text(encoding="utf-8")]
    assert found == ["conftest.py"]


def test_the_session_leaves_slow_files_out_and_names_those_that_took_too_long(pytester):
    """Tried on three files: one named as slow, one with a heavy fixture in it, one that takes long."""
    rule = (HERE / "tiers.py").read_text(encoding="utf-8").replace('"test_cli",', '"test_cli", "test_slow",')
    rule = rule.replace("MOST_S = 6.0", "MOST_S = 0.1")
    hooks = (HERE / "conftest.py").read_text(encoding="utf-8")
    kept = hooks[hooks.index("HERE = Path") : hooks.index("@pytest.fixture")]
    pytester.makepyfile(
        tiers=rule,
        test_slow="raise RuntimeError('read')",
        test_mixed="def test_heavy(browser):\n    raise AssertionError\n\n\ndef test_light():\n    pass\n",
        test_long="import time\n\n\ndef test_long():\n    time.sleep(0.15)\n",
    )
    pytester.makeini("[pytest]\nmarkers = quick: x\n")
    pytester.makeconftest(
        "from collections import Counter\nfrom pathlib import Path\n\nimport pytest\n\n"
        "from tiers import MOST_S, SLOW, is_quick, ranks\n\n"
        f"{kept}\n\n@pytest.fixture\ndef browser():\n    return None\n"
    )
    done = pytester.runpytest_subprocess("-m", "quick", "-p", "no:cacheprovider", "-p", "no:xdist")
    done.assert_outcomes(passed=2, deselected=1)
    done.stdout.fnmatch_lines(["test_long.py took 0 s: on a quiet machine, *"])
    assert "test_mixed.py took" not in done.stdout.str()
