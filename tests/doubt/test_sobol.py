"""Sobol' indices of functions whose indices are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from explore.doubt.sobol import indices, plan

BASE = 1 << 14


def test_ishigami():
    """sin x1 + 7 sin2 x2 + 0.1 x3^4 sin x1 (Ishigami and Homma, 1990): all indices within 0.01."""
    a, b = 7.0, 0.1
    x = np.pi * (2.0 * plan(("one", "two", "three"), BASE, 1) - 1.0)
    y = np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])
    whole = a**2 / 8 + b * np.pi**4 / 5 + b**2 * np.pi**8 / 18 + 0.5
    one = 0.5 * (1 + b * np.pi**4 / 5) ** 2
    three = b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    wanted = {
        "one": (one / whole, (one + three) / whole),
        "two": (a**2 / 8 / whole, a**2 / 8 / whole),
        "three": (0.0, three / whole),
    }
    found = {index.topic: index for index in indices(("one", "two", "three"), y, 1)}
    for topic, (first, total) in wanted.items():
        assert found[topic].first == pytest.approx(first, abs=0.01)
        assert found[topic].total == pytest.approx(total, abs=0.01)


def test_sobol_g_by_groups():
    """The product of (|4 x - 2| + a)/(1 + a): indices of groups of its inputs within 0.01."""
    a = np.array([0.0, 1.0, 4.5, 9.0, 99.0])
    topics = ("p", "q", "q", "r", "r")
    x = plan(topics, BASE, 2)
    y = np.prod((np.abs(4.0 * x - 2.0) + a) / (1.0 + a), axis=1)
    part = 1.0 / 3.0 / (1.0 + a) ** 2
    groups = {"p": part[:1], "q": part[1:3], "r": part[3:]}
    own = {name: np.prod(1.0 + parts) - 1.0 for name, parts in groups.items()}
    whole = np.prod(1.0 + part) - 1.0
    for index in indices(topics, y, 2):
        first = own[index.topic] / whole
        total = own[index.topic] * np.prod([1.0 + v for k, v in own.items() if k != index.topic]) / whole
        assert index.first == pytest.approx(first, abs=0.01)
        assert index.total == pytest.approx(total, abs=0.01)
    assert x.shape == (BASE * 5, 5)


def test_what_nothing_moves():
    """A constant has no variance to share out."""
    assert all(index.total == 0.0 for index in indices(("a", "b"), np.ones(len(plan(("a", "b"), 8, 1))), 1))
