"""Coefficients from bench logs: constants that made a log are found again, and what it does not tell is not made up."""

from __future__ import annotations

import json
import os
import sys
from dataclasses import replace

import numpy as np
import pytest
import yaml
from CoolProp.CoolProp import PropsSI
from scipy.special import logsumexp
from scipy.stats import binom

from explore import cli
from explore.bench import overlay, posterior, trials
from explore.bench.columns import LEAK_DOWN, MOTORING, PUMP, RUNNING
from explore.bench.fit import BENT, IDENTIFIED, NO_SLOPE, _part, candidates, fit
from explore.bench.log import Log, Trial, accuracies, read_log
from explore.bench.posterior import ENOUGH, sample
from explore.bench.problem import Problem
from explore.bench.rejudge import Best, Verdict
from explore.bench.trials import Bench
from explore.config.compose import compose_case, load_scenario
from explore.config.machine import read_machine
from explore.design.variables import INPUTS
from explore.doubt.draws import value
from explore.errors import InputError
from explore.model.frames import evaluate
from explore.plant.laws import Laws
from explore.plant.losses import ORIFICE
from explore.run.files import read_frame
from explore.tasks.new import starting_log
from explore.tell.fit import words as said_of
from explore.tell.fit.page import page
from explore.tell.fit.words import told, verdict
from tests.bench.synthetic_log import MACHINE, MEASURED, PLAN, Count, synthetic
from tests.documents import CLONE

LOGS = 100 if os.environ.get("EXPLORE_ALL_FITS") == "1" else 12
"""All 100 take two minutes."""
WANTED = 0.88
"""Share of true constants in their 90 % intervals that is asked for; 12 logs hold some 130 of them."""
UNLUCKY = 0.01
"""How seldom an honest 90 % interval may fail this by chance, where few constants are counted."""


@pytest.fixture(scope="module")
def case():
    """The default case."""
    return load_scenario("orchard")


@pytest.fixture(scope="module")
def mine(case, tmp_path_factory):
    """The log to start from, as `task=new what=log` writes it."""
    file = tmp_path_factory.mktemp("bench") / "mine.csv"
    file.write_text(starting_log(), encoding="utf-8")
    return read_log(file, {}, 1.013)


@pytest.fixture(scope="module")
def found(case, mine):
    """Its fit."""
    return fit(mine, Bench(read_machine("butane_engine"), case))


def test_the_constants_of_a_log_are_found_again(case):
    """Logs with noise in readings and conditions: 90 % intervals hold the constants that made them, each and together."""
    count = Count()
    for seed in range(LOGS):
        log, truth, bench = synthetic(case, seed)
        count.add(fit(log, bench), truth)
    assert sum(count.told.values()) > 9 * LOGS
    assert count.share >= (WANTED if LOGS == 100 else 0.85)
    for name, told_ in count.told.items():
        assert count.inside[name] >= binom.ppf(UNLUCKY, told_, 0.9), name


def test_what_a_log_lacks_is_not_identified(case):
    """Without cards, brake, pump and store nothing is said of them, and they stay as assumed."""
    log, _, bench = synthetic(case, 3, kinds=(MOTORING,))
    done = fit(log, bench)
    assert {one.item.name for one in done.identified()} == {"friction_idle_bar", "friction_speed_bar_s_per_m"}
    for one in done.coefficients:
        if not one.identified:
            assert one.fitted == one.prior
            assert getattr(done.engine, one.item.name) == getattr(case.engine, one.item.name)
            assert one.why == "nothing in the log depends on it"


def test_the_needed_channel_identifies(case):
    """Without the pump's power its drive and packing are not told, without its flow the filling is not."""
    told_with = {}
    for gone in ("pump_power_W", "pump_flow_L_per_h"):
        log, _, bench = synthetic(case, 4, kinds=(PUMP,), without=(gone,))
        told_with[gone] = {one.item.name for one in fit(log, bench).identified()}
    assert told_with["pump_power_W"] == {"pump_volumetric_efficiency"}
    assert told_with["pump_flow_L_per_h"] == {"pump_drive_efficiency", "pump_packing_bar"}


def test_a_clearance_that_leaves_no_cut_off_is_no_error(case):
    """A machine by its volume ratio: draws beyond a clearance of (1 - r/100)/(r - 1) stay there, and the log is fitted."""
    (one,) = MACHINE.cylinders
    by_ratio = one.model_copy(update={"cut_off": None, "volume_ratio": 7.5})
    bench = Bench(MACHINE.model_copy(update={"cylinders": (by_ratio,)}), case)
    columns = PLAN[RUNNING] | {"outlet_pressure_bar_a": np.full(12, 1.2)}
    empty = Trial(RUNNING, tuple(range(2, 14)), columns | dict.fromkeys(MEASURED[RUNNING], np.zeros(12)))
    read = columns | dict(bench.predict(case.engine, empty))
    log = Log("x.csv", (replace(empty, columns=read, accuracy=accuracies(replace(empty, columns=read), {})),))
    farthest = {
        item.name: value(item, np.array([3.0]))[0] for item in candidates(case, machine_has_clearance=False)
    }
    assert farthest["clearance_fraction"] > 1.0 / 6.5
    done = fit(log, bench)
    assert done.misfit == 1.0
    (clearance,) = (one for one in done.coefficients if one.item.name == "clearance_fraction")
    assert clearance.item.most == pytest.approx((1.0 - 0.075) / 6.5)
    assert clearance.prior[2] <= clearance.item.most
    assert clearance.fitted[2] <= clearance.item.most
    assert np.isfinite([(one.after, one.before) for one in done.readings]).all()


def test_a_wrong_reading_counts_less(case, monkeypatch):
    """One torque read twice as high among eight moves friction less than half as far as by squares, and is named."""
    log, truth, bench = synthetic(case, 5, kinds=(MOTORING,))
    (test,) = log.tests
    many = {name: np.concatenate([x, x]) for name, x in test.columns.items()}
    many["torque_Nm"][2] *= 2.0
    spoilt = replace(log, tests=(Trial(MOTORING, tuple(range(2, 10)), many, test.accuracy),))
    items = [one for one in candidates(case, machine_has_clearance=False) if one.group == "friction"]
    moved = {}
    for robust in (3.0, 1e3):
        monkeypatch.setattr("explore.bench.problem.ROBUST", robust)
        clean, bad = (Problem("x", one.tests, bench, items) for one in (log, spoilt))
        moved[robust] = abs(
            bad.solved(np.zeros(3), np.arange(3), 1.0) - clean.solved(np.zeros(3), np.arange(3), 1.0)
        )
    assert moved[3.0][0] < 0.5 * moved[1e3][0]
    monkeypatch.undo()
    done = fit(spoilt, bench)
    off = {one.line: one.off for one in done.readings}
    assert abs(off[4]) > 5.0
    assert "line 4 torque_Nm" in " ".join(told(done).split())
    for one in done.identified():
        assert one.fitted[1] <= truth[one.item.name] <= one.fitted[2]


def test_a_model_that_misses_widens_its_intervals(case):
    """Readings that no friction gives: the misfit is told, and intervals grow with it."""
    log, _, bench = synthetic(case, 6, kinds=(MOTORING,))
    (test,) = log.tests
    bent = test.columns | {"torque_Nm": test.columns["torque_Nm"] * np.array([1.0, 1.3, 0.8, 1.2])}
    good, bad = fit(log, bench), fit(replace(log, tests=(replace(test, columns=bent),)), bench)
    assert good.misfit < 2.0 < bad.misfit
    assert bad.coefficients[-1].width >= good.coefficients[-1].width
    widths = [
        next(one.width for one in done.coefficients if one.item.name == "friction_idle_bar")
        for done in (good, bad)
    ]
    assert widths[1] > 2.0 * widths[0]
    assert "times its accuracy" in " ".join(told(bad).split())


def test_many_engines_at_once_are_each_alone(case):
    """A fit runs hundreds of engines as arrays, by tables: to a thousandth what task=machine gives of each."""
    log, _, bench = synthetic(case, 8)
    items = candidates(case, machine_has_clearance=False)
    problem = Problem("x.csv", log.tests, bench, items)
    z = np.random.default_rng(1).standard_normal((3, len(items)))
    together = problem.predicted(z)
    for row, one in zip(together, z, strict=True):
        engine = case.engine.model_copy(
            update={
                item.name: float(value(item, np.array([x]))[0]) for item, x in zip(items, one, strict=True)
            }
        )
        alone = [bench.predict(engine, test) for test in log.tests]
        plain = np.concatenate([found[name] for found in alone for name in found])
        np.testing.assert_allclose(row, plain, rtol=1e-3)


def test_draws_are_those_of_a_known_posterior():
    """A normal posterior, correlated by 0.8, and one that is bent: mean, deviation and quantiles, by quadrature."""
    covariance = np.array([[0.25, 0.2], [0.2, 0.25]])
    inverse = np.linalg.inv(covariance)
    draws = sample(
        lambda z: -0.5 * np.einsum("si,ij,sj->s", z - 0.3, inverse, z - 0.3), np.zeros(2), np.eye(2)
    )
    np.testing.assert_allclose(draws.mean(), 0.3, atol=0.05)
    np.testing.assert_allclose(draws.covariance(), covariance, atol=0.03)
    np.testing.assert_allclose(
        draws.quantiles(0, (0.05, 0.95)), 0.3 + np.array([-1, 1]) * 1.6449 * 0.5, atol=0.08
    )

    def bent(z):
        return -0.5 * (z[:, 0] ** 2 + ((np.exp(z[:, 0]) + z[:, 1] - 1.0) / 0.3) ** 2 + z[:, 1] ** 2)

    grid = np.linspace(-3.0, 3.0, 601)
    both = np.stack([x.ravel() for x in np.meshgrid(grid, grid, indexing="ij")], axis=1)
    share = np.exp(bent(both)).reshape(601, 601).sum(axis=1)
    exact = np.interp((0.05, 0.95), np.cumsum(share) / share.sum(), grid)
    draws = sample(bent, np.zeros(2), 0.1 * np.eye(2))
    np.testing.assert_allclose(draws.quantiles(0, (0.05, 0.95)), exact, atol=0.1)


def test_each_draw_is_weighed_against_all_mixtures(monkeypatch):
    """Those of later rounds too: sums that are kept from round to round are those of all members at once."""
    mixtures, drawn = [], posterior._drawn
    monkeypatch.setattr(posterior, "_drawn", lambda one, *rest: mixtures.append(one) or drawn(one, *rest))

    def density(z):
        return -0.5 * (np.sum(z**2, axis=1) + ((z[:, 0] ** 2 - z[:, 1]) / 0.2) ** 2)

    draws = sample(density, np.zeros(2), np.eye(2))
    assert len(mixtures) >= len(posterior.HEATS)
    members = [one.log_share(draws.z) for mixture in mixtures for one in mixture]
    weights = np.exp(density(draws.z) - logsumexp(members, axis=0))
    np.testing.assert_allclose(draws.weights, weights / weights.sum(), rtol=1e-9)


RIDGES = {
    "parabola": lambda x: 1.5 * x**2 - 1.5,
    "wave": lambda x: 1.5 * np.sin(2.0 * x),
}
"""Invented laws of six coefficients over one, which six readings tell to a tenth of their bands."""


def ridge_residuals(law, z):
    """Residuals (s, 6) of a curved ridge in seven coefficients z (s, 7)."""
    return (z[:, 1:] - law(z[:, :1])) / 0.1


@pytest.mark.parametrize("name", RIDGES)
def test_draws_that_miss_a_ridge_do_not_pass(name):
    """Seven coefficients on a curved ridge: the spread is that by quadrature along it, or the draws are not enough.

    What is off the ridge is normal, so that along it stays exp(-z^2/2 - 6 f(z)^2/(2 (1 + 0.01))), nothing beyond 3.
    """
    law, along = RIDGES[name], np.linspace(-3.0, 3.0, 6001)
    share = np.exp(-0.5 * along**2 - 3.0 * law(along) ** 2 / 1.01) * (np.abs(law(along)) < 3.0)
    best = along[share.argmax()]
    centre = np.array([best, *[law(best) / 1.01] * 6])
    slope = np.column_stack([np.full(6, -(law(best + 1e-5) - law(best - 1e-5)) / 2e-5), np.eye(6)]) / 0.1
    draws = sample(
        lambda z: -0.5 * (np.sum(ridge_residuals(law, z) ** 2, axis=1) + np.sum(z**2, axis=1)),
        centre,
        np.linalg.inv(slope.T @ slope + np.eye(7)),
    )
    exact = np.sqrt(np.sum(share * along**2) / share.sum() - (np.sum(share * along) / share.sum()) ** 2)
    assert not draws.enough or np.sqrt(draws.covariance()[0, 0]) == pytest.approx(exact, rel=0.1)


class Ridge(Problem):
    """Six readings of nothing else than a curved ridge, in place of those of a log."""

    def __init__(self, items):
        self._items, self._tests, self._ways = items, [], {}
        self.measured, self.deviation, self._whiten = np.zeros(6), np.ones(6), np.eye(6)

    def predicted(self, z):
        """Return the readings at z (s, 7)."""
        return ridge_residuals(RIDGES["parabola"], z)

    def readings(self, before, after):
        """Return none: they stand in no log."""
        return ()


def test_of_draws_that_are_too_few_nothing_is_told(case, found, mine):
    """On a ridge that the draws cannot follow nothing is identified; page and words say so with the share that counts."""
    items = candidates(case, machine_has_clearance=False)[:7]
    part = _part(Ridge(items), items)
    assert part.effective < ENOUGH
    for one in part.coefficients:
        assert (one.identified, one.fitted, one.why) == (False, one.prior, BENT)
    done = replace(
        found, coefficients=part.coefficients, readings=found.readings[:1], correlations=part.correlations
    )
    done = replace(done, effective={"running, leak_down": part.effective})
    for text in (told(done), page(done, mine, "m", "")):
        assert "Nothing is told of running, leak down" in " ".join(text.split())
    assert "Nothing is told" not in told(found)
    assert set(found.effective) == {"running, motoring, leak_down", "cool_down", "pump"}
    assert min(found.effective.values()) >= ENOUGH


def test_the_viscosity_of_air():
    """The standard atmosphere's formula against CoolProp's correlation (Lemmon and Jacobsen 2004), within 1 %."""
    for kelvin in (260.0, 293.15, 350.0, 400.0):
        assert float(trials.air_viscosity(np.array(kelvin))) == pytest.approx(
            PropsSI("V", "T", kelvin, "P", 1e5, "Air"), rel=0.01
        )


def test_nitrogen_leaks_as_air_within_three_per_cent():
    """In a slit as 1/viscosity, choked as the root of the gas constant: what the handbook says of the law; CoolProp."""
    for kelvin in (293.15, 340.0):
        nitrogen = PropsSI("V", "T", kelvin, "P", 5e5, "Nitrogen")
        assert 1.0 < float(trials.air_viscosity(np.array(kelvin))) / nitrogen < 1.035
    constant = PropsSI("GAS_CONSTANT", "Nitrogen") / PropsSI("M", "Nitrogen")
    assert 1.0 < np.sqrt(constant / trials.GAS_CONSTANT_AIR) < 1.02


def test_a_choked_leak_empties_exponentially(case):
    """Textbook blow-down through a choked orifice at one temperature: p = p0 exp(-t A Psi sqrt(R T) / V)."""
    bench = Bench(MACHINE, case)
    engine = case.engine.model_copy(update={"ring_length_mm": 1e-9})  # no slit in series
    columns = {
        "inlet_pressure_bar_a": np.array([9.0, 9.0]), "outlet_pressure_bar_a": np.full(2, 0.5),
        "inlet_temperature_degC": np.full(2, 20.0), "held_volume_L": np.full(2, 20.0),
        "duration_s": np.array([10.0, 30.0]), "end_pressure_bar_a": np.zeros(2),
    }  # fmt: skip
    got = bench.predict(engine, Trial(LEAK_DOWN, (2, 3), columns))["end_pressure_bar_a"]
    area = np.pi * 0.063 * engine.ring_gap_um * 1e-6
    rate = area * ORIFICE * np.sqrt(trials.GAS_CONSTANT_AIR * 293.15) / 0.020
    np.testing.assert_allclose(got, 9.0 * np.exp(-rate * columns["duration_s"]), rtol=1e-5)


def test_motoring_and_pump_by_hand(case):
    """a sqrt(0.1/D) + c_f U over the volume swept; V (dp + p0)/eta_d and eta_v V."""
    bench, e = Bench(MACHINE, case), case.engine
    test = Trial(MOTORING, (2,), {"speed_rev_per_min": np.array([300.0]), "torque_Nm": np.zeros(1)})
    pressure = 1e5 * (
        e.friction_idle_bar * np.sqrt(0.1 / 0.063) + e.friction_speed_bar_s_per_m * 2 * 0.06 * 5.0
    )
    torque = pressure * np.pi / 4 * 0.063**2 * 0.06 / (2 * np.pi)
    assert bench.predict(e, test)["torque_Nm"][0] == pytest.approx(torque)
    columns = {"pump_pressure_rise_bar": np.array([5.0]), "pump_displacement_L_per_h": np.array([60.0])}
    got = bench.predict(
        e, Trial(PUMP, (2,), columns | {"pump_flow_L_per_h": np.zeros(1), "pump_power_W": np.zeros(1)})
    )
    assert got["pump_flow_L_per_h"][0] == pytest.approx(54.0)
    assert got["pump_power_W"][0] == pytest.approx(0.06 / 3600 * (5e5 + 1.5e5) / 0.85)


def test_lines_that_are_copies_are_named(mine, tmp_path):
    """Two lines the same in every column are told by their numbers, lines that differ in one are not."""
    assert said_of.copied(mine) == []
    lines = starting_log().splitlines()
    last = len(lines)
    file = tmp_path / "copied.csv"
    file.write_text("\n".join([*lines, lines[-1], lines[-1]]) + "\n", encoding="utf-8")
    log = read_log(file, {}, 1.013)
    assert log.copied == ((last, last + 1, last + 2),)
    (said,) = said_of.copied(log)
    assert f"Lines {last}, {last + 1}, {last + 2} are the same in every column" in said


def test_the_cylinders_that_a_fit_stands_on_are_said():
    """Whoever measured the machine sees which bore was taken."""
    said = said_of.machine(MACHINE)
    assert f"{MACHINE.cylinders[0].bore_mm:g} x {MACHINE.cylinders[0].stroke_mm:g} mm" in said


def test_the_log_to_start_from(found):
    """Its invented readings were made with these constants, which the fit finds; it names what it does not."""
    truth = {
        "valve_base_loss": 0.027, "inlet_port_share": 0.045, "ring_gap_um": 15.2, "friction_idle_bar": 0.071,
        "friction_load_share": 0.048, "friction_speed_bar_s_per_m": 0.044, "pump_volumetric_efficiency": 0.86,
        "pump_drive_efficiency": 0.81, "pump_packing_bar": 2.1,
    }  # fmt: skip
    named = {one.item.name: one for one in found.coefficients}
    for name, true in truth.items():
        assert named[name].identified, name
        assert named[name].fitted[1] <= true <= named[name].fitted[2], name
    assert not named["outlet_port_share"].identified
    assert "clearance_fraction" not in named  # the machine's file has it
    for one in found.coefficients:
        assert one.identified == (one.width <= IDENTIFIED)


def test_the_overlay_is_taken_by_any_command(found, case, tmp_path):
    """Fitted values in the engine, narrowed bands in the doubt, and what is typed counts over it."""
    file = tmp_path / "fitted.yaml"
    file.write_text(overlay.text(found, "mine.csv", "butane_engine", case), encoding="utf-8")
    own = compose_case([f"fitted={file}", "engine.ring_gap_um=14"])
    assert own.engine.ring_gap_um == 14.0
    for one in found.identified():
        if one.item.name != "ring_gap_um":
            assert getattr(own.engine, one.item.name) == pytest.approx(one.fitted[0], rel=1e-5)
        low, high = own.doubt.bands[one.item.name]
        assert one.fitted[1] <= low < high <= one.fitted[2]
    assert own.engine.wall_factor == case.engine.wall_factor
    assert set(yaml.safe_load(file.read_text())) == {"engine", "doubt"}


def test_a_second_log_starts_from_the_first(found, case, mine, tmp_path):
    """With the overlay as its case a fit takes what was told before as its prior, and tells it more narrowly."""
    file = tmp_path / "fitted.yaml"
    file.write_text(overlay.text(found, "mine.csv", "butane_engine", case), encoding="utf-8")
    coil = ["engine.coil_U_two_phase=300", "++doubt.bands.coil_U_two_phase=[280,320]"]
    own = compose_case([f"fitted={file}", *coil])
    again = fit(mine, Bench(read_machine("butane_engine"), own))
    before, after = (
        next(one for one in done.coefficients if one.item.name == "friction_idle_bar")
        for done in (found, again)
    )
    assert after.prior[0] == pytest.approx(before.fitted[0], rel=1e-4)
    assert after.fitted[2] - after.fitted[1] < before.fitted[2] - before.fitted[1]
    # what was told before and this log does not tell, or is not about, goes along with its band
    held, kept = overlay.overlay(again, own), yaml.safe_load(file.read_text(encoding="utf-8"))
    untold = {one.item.name for one in again.coefficients if not one.identified} & set(kept["engine"])
    assert untold
    for name in untold:
        assert held["engine"][name] == kept["engine"][name]
        assert held["doubt"]["bands"][name] == kept["doubt"]["bands"][name]
    assert (held["engine"]["coil_U_two_phase"], held["doubt"]["bands"]["coil_U_two_phase"]) == (
        300,
        [280, 320],
    )


def test_the_page_is_whole_and_escaped(found, mine):
    """Nothing is fetched, no script is in it, names of files are escaped, every reading and coefficient stands there."""
    text = page(found, replace(mine, path="<script>a</script>.csv"), "<b>m</b>", "")
    assert "<script" not in text
    assert "&lt;script&gt;a" in text
    assert "http" not in text
    assert text.count('class="after"') == len(found.readings)
    for one in found.coefficients:
        assert one.item.name in text


def test_no_air_is_pressed_onto_fluid_and_oil(found, mine):
    """Page, log to start from and handbook say nitrogen through a reducer, and where alone dry air may be taken."""
    handbook = (CLONE / "explore" / "handbook" / "how-to-fit.md").read_text(encoding="utf-8")
    for text in (page(found, mine, "m", ""), starting_log().replace("\n#", ""), handbook):
        said = " ".join(text.split())
        for words in (
            "dry nitrogen",
            "through a pressure reducer",
            "ry air only where neither fluid nor oil has been",
        ):
            assert words in said
        assert "under air" not in said
        assert "ir alone" not in said


def test_a_run_is_judged_again(mine, case, tmp_path, monkeypatch, capsys):
    """By the command: the folder is whole, the sentence says what is best, and its figures are those of evaluate."""
    (tmp_path / "mine.csv").write_text(starting_log(), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    words = [
        "task=fit",
        "log=mine.csv",
        "machine=butane_engine",
        "output=out",
        f"run={CLONE / 'results' / 'example'}",
    ]
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    assert cli.main() == 0
    assert "With your engine" in capsys.readouterr().out
    assert sorted(file.name for file in (tmp_path / "out").iterdir()) == [
        "fit.html",
        "fit.json",
        "fitted.yaml",
    ]
    told_ = json.loads((tmp_path / "out" / "fit.json").read_text(encoding="utf-8"))
    assert set(told_["effective"]) == {"running, motoring, leak_down", "cool_down", "pump"}
    front, own = (
        read_frame(CLONE / "results" / "example" / "front.csv"),
        compose_case(["fitted=out/fitted.yaml"]),
    )
    now = told_["front"]["now"]
    again = evaluate(front.iloc[[now["line"] - 1]][[name for name in INPUTS if name in front]], own)
    assert again["work_per_litre_kJ"].iloc[0] == pytest.approx(now["after"], rel=1e-4)
    assert told_["front"]["was"]["before"] == pytest.approx(front["work_per_litre_kJ"].max(), rel=0.01)


def test_what_is_said_of_a_front(case):
    """The same design, another of the fluid, another fluid, none: a sentence each."""
    old, new = Best(1, "n-Pentane", 11.9, 9.1), Best(2, "n-Pentane", 11.0, 9.4)
    other = Best(3, "n-Butane", 11.0, 9.5)
    figure = "work_per_litre_kJ"
    assert "n-Pentane (line 1) stays best" in verdict(Verdict(figure, 9, 5, old, True, old), case)
    assert "9.10 kJ/L instead of 11.9 kJ/L" in verdict(Verdict(figure, 9, 5, old, True, old), case)
    assert "films that the log has told" in verdict(Verdict(figure, 9, 5, old, True, old), case, True)
    assert "n-Pentane stays best, by another design, line 2" in verdict(
        Verdict(figure, 9, 5, old, True, new), case
    )
    assert "n-Butane (line 3) is best in place of n-Pentane" in verdict(
        Verdict(figure, 9, 5, old, False, other), case
    )
    assert "no design of the run's front keeps every limit" in verdict(
        Verdict(figure, 9, 0, old, False, None), case
    )


def test_constant_losses_have_no_laws_to_fit(mine):
    """One sentence, before anything is run."""
    with pytest.raises(InputError, match=r"engine\.losses=constant has no laws"):
        fit(mine, Bench(read_machine("butane_engine"), compose_case(["engine=constant"])))


def test_what_hardly_moves_a_reading_at_its_likely_value_may_still_matter(case):
    """A gap so small that its slope counts as none: wide in its band it leaks with its cube, and the log depends on it."""
    log, _, bench = synthetic(case, 5, kinds=(LEAK_DOWN,))
    for gap_um, steep, touched in ((13.0, True, True), (0.02, False, True), (0.001, False, False)):
        tight = case.model_copy(update={"engine": case.engine.model_copy(update={"ring_gap_um": gap_um})})
        (gap,) = (one for one in candidates(tight, machine_has_clearance=False) if one.name == "ring_gap_um")
        problem = Problem(log.path, log.tests, replace(bench, case=tight), [gap])
        assert (np.abs(problem.slopes(np.zeros(1))).max() > NO_SLOPE) == steep, gap_um
        assert bool(len(problem.touched(NO_SLOPE))) == touched, gap_um


def test_the_clearance_matters(case):
    """A machine whose clearance is not in its file has it fitted; the laws' ideal kind would leave none."""
    assert Laws.ideal().serves(7)
    named = {one.name for one in candidates(case, machine_has_clearance=False)}
    assert "clearance_fraction" in named
    assert "wall_factor" in named
    assert "wall_root_factor" not in named
