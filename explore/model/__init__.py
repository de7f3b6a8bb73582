"""The system model: the one place that knows the order of the components."""

from __future__ import annotations

from explore.model.evaluator import Evaluator
from explore.model.frames import evaluate

__all__ = ["Evaluator", "evaluate"]
