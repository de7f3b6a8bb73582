"""The sample run that documents show is one of the model as it is: who tries their commands finds what they say."""

from pathlib import Path

import numpy as np
import pandas as pd

from explore import evaluate
from explore.design.variables import INPUTS
from explore.run.reader import judged_case

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "results" / "example"


def test_the_sample_run_is_of_this_model():
    """Each line of its front keeps its limits and has its objectives still, to a thousandth."""
    case, front = judged_case(SAMPLE), pd.read_csv(SAMPLE / "front.csv")
    found = evaluate(front[list(INPUTS)], case)
    assert found["feasible"].all()
    for objective in case.scenario.objectives:
        np.testing.assert_allclose(found[objective.figure], front[objective.figure], rtol=1e-3)


def test_the_readme_quotes_the_bores_of_its_first_line():
    """README names those that the build sheet replaces."""
    first = pd.read_csv(SAMPLE / "front.csv", nrows=1).iloc[0]
    bores = [f"{first[f'bore_{stage}_mm']:.1f}" for stage in (1, 2, 3)]
    assert f"instead of {bores[0]}, {bores[1]} and {bores[2]}" in (ROOT / "README.md").read_text(
        encoding="utf-8"
    )
