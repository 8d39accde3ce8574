"""The CUSUM against published run lengths, and against the textbook series whose change it has to find."""

import numpy as np
import pytest

from service.evidence.cusum import (
    alarm_index,
    average_run_length,
    change_index,
    decision_for_run_length,
    first_alarm,
    upper_cusum,
)

SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
# J. M. Lucas and R. B. Crosier (1982), Technometrics 24:199-205, table 1, without head start; k = 0.5, h = 4.
LUCAS_CROSIER = (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31)
# D. C. Montgomery, Introduction to Statistical Quality Control (from memory); k = 0.5, h = 5, as far as a shift of 4.
MONTGOMERY = (465, 139, 38.0, 17.0, 10.4, 5.75, 4.01, 3.11, 2.57, 2.01)
# The same two, computed elsewhere to more digits by the same kind of equations with 200 nodes.
COMPUTED_H4 = (167.684, 74.224, 26.630, 13.285, 8.383, 4.747, 3.343, 2.620, 2.194, 1.708)
COMPUTED_H5 = (465.444, 139.494, 37.996, 17.048, 10.376, 5.747, 4.009, 3.114, 2.573, 2.013)


def _three_digits(value: float) -> float:
    return float(f"{value:.3g}")


@pytest.mark.parametrize(("shift", "published"), list(zip(SHIFTS, LUCAS_CROSIER, strict=True)))
def test_two_sided_run_length_is_that_of_lucas_and_crosier(shift: float, published: float) -> None:
    """To all three digits printed."""
    assert _three_digits(average_run_length(shift, 0.5, 4.0, two_sided=True)) == published


@pytest.mark.parametrize(("shift", "remembered"), list(zip(SHIFTS, MONTGOMERY, strict=False)))
def test_two_sided_run_length_is_that_of_the_textbook(shift: float, remembered: float) -> None:
    """To all digits printed, of which there are at least three."""
    assert _three_digits(average_run_length(shift, 0.5, 5.0, two_sided=True)) == remembered


@pytest.mark.parametrize(("decision_h", "computed"), [(4.0, COMPUTED_H4), (5.0, COMPUTED_H5)])
def test_run_lengths_agree_to_the_last_digit_computed(decision_h: float, computed: tuple[float, ...]) -> None:
    """All shifts up to 4 standard deviations."""
    here = [average_run_length(shift, 0.5, decision_h, two_sided=True) for shift in SHIFTS[:10]]
    np.testing.assert_allclose(here, computed, atol=6e-4)


@pytest.mark.parametrize(
    ("shift", "reference_k", "decision_h", "published", "tolerance"),
    [
        # D. Brook and D. A. Evans (1972), Biometrika 59:539-549, one-sided.
        (0.0, 0.5, 3.0, 117.59, 0.01),
        (1.5, 0.5, 3.0, 3.75, 0.005),
        # K.-H. Waldmann (1986), Technometrics 28:61-67 (pages from memory), one-sided.
        (-0.5, 0.5, 3.0, 1963, 0.5),
        (0.0, 0.5, 3.0, 117.4, 0.25),
        (0.5, 0.5, 3.0, 17.35, 0.005),
        # L. C. Vance (1986), J. Quality Technology 18:189-193 (pages from memory), one-sided.
        (-0.25, 0.0, 10.0, 2071.51, 0.1),
        (-0.125, 0.0, 10.0, 400.28, 0.006),
        (0.0, 0.0, 10.0, 124.66, 0.006),
        (0.125, 0.0, 10.0, 59.30, 0.006),
        (0.25, 0.0, 10.0, 36.71, 0.006),
        (0.5, 0.0, 10.0, 20.37, 0.006),
        (0.75, 0.0, 10.0, 14.06, 0.006),
        (1.0, 0.0, 10.0, 10.75, 0.006),
        (2.5, 0.25, 8.0, 4.1500836225, 2e-7),
        # Computed by the same kind of equations with 200 nodes.
        (0.0, 0.5, 4.0, 335.368, 6e-4),
        (0.0, 0.5, 5.0, 930.887, 6e-4),
    ],
)
def test_one_sided_run_length_is_as_published(
    shift: float, reference_k: float, decision_h: float, published: float, tolerance: float
) -> None:
    """Within the rounding of the tables, but for Waldmann's 117.4, which Brook and Evans have as 117.59."""
    assert average_run_length(shift, reference_k, decision_h) == pytest.approx(published, abs=tolerance)


def test_a_two_sided_decision_of_4_77_has_the_run_length_of_a_shewhart_chart() -> None:
    """368.56, computed; a chart with limits at three standard deviations has 370."""
    assert average_run_length(0.0, 0.5, 4.77, two_sided=True) == pytest.approx(368.56, abs=0.005)


@pytest.mark.parametrize("reference_k", [0.25, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("length", [20.0, 930.887, 1e5, 1e7])
def test_a_decision_value_has_the_run_length_it_was_asked_for(length: float, reference_k: float) -> None:
    """The inverse is right over six decades; at k = 0.5 a run of 930.887 samples means h = 5."""
    if length < average_run_length(0.0, reference_k, 0.0):
        with pytest.raises(ValueError, match="must be"):
            decision_for_run_length(length, reference_k)
        return
    decision_h = decision_for_run_length(length, reference_k)
    assert average_run_length(0.0, reference_k, decision_h) == pytest.approx(length, rel=1e-6)
    if (length, reference_k) == (930.887, 0.5):
        assert decision_h == pytest.approx(5.0, abs=1e-5)


@pytest.mark.parametrize(("length", "reference_k"), [(1.0, 0.5), (1e9, 0.5), (1e8, 0.25), (1e4, 0.0)])
def test_a_run_length_out_of_range_is_refused(length: float, reference_k: float) -> None:
    """Shorter than that of alarming at every sample above k, beyond the precision, or for want of an allowance."""
    with pytest.raises(ValueError, match="run length"):
        decision_for_run_length(length, reference_k)


def test_impossible_parameters_are_refused() -> None:
    """A negative allowance or decision value has no run length."""
    with pytest.raises(ValueError, match="k >= 0 and h from 0 to 30"):
        average_run_length(0.0, -0.5, 4.0)
    with pytest.raises(ValueError, match="k >= 0 and h from 0 to 30"):
        average_run_length(0.0, 0.5, -4.0)


# D. C. Montgomery, Introduction to Statistical Quality Control, example 9.1: mean 10, deviation 1, K = 0.5, H = 5; the
# last ten observations were drawn with mean 11.
EXAMPLE = np.fromstring(
    """
    9.45 7.99 9.29 11.66 12.16 10.18 8.04 11.46 9.20 10.34 9.03 11.47 10.51 9.40 10.08 9.37 10.62 10.31 8.52 10.84
    10.90 9.33 12.29 11.50 10.60 11.08 10.38 11.62 11.31 10.52
    """,
    sep=" ",
)
EXAMPLE_SUMS = np.fromstring(
    """
    0 0 0 1.16 2.82 2.50 0.04 1.00 0 0 0 0.97 0.98 0 0 0 0.12 0 0 0.34 0.74 0 1.79 2.79 2.89 3.47 3.35 4.47 5.28 5.30
    """,
    sep=" ",
)


def test_the_textbook_series_is_reproduced() -> None:
    """Every published sum, to the printed digit (the 30th is computed)."""
    np.testing.assert_allclose(upper_cusum(EXAMPLE - 10.0, 0.5), EXAMPLE_SUMS, atol=1e-9)


def test_the_textbook_alarm_comes_at_29_and_the_change_is_placed_after_22() -> None:
    """Published: out of control at sample 29, seven samples after the sum left zero. Samples count from 1 there."""
    path = upper_cusum(EXAMPLE - 10.0, 0.5)
    alarm = first_alarm(path, 5.0)
    assert alarm == 29 - 1
    assert alarm_index((EXAMPLE - 10.0).tolist(), 0.5, 5.0) == alarm
    assert change_index(path, alarm) == 22 - 1


def test_the_path_is_that_of_the_recursion() -> None:
    """The reflected random walk equals the definition, sample by sample, for 3000 seeded deviations."""
    deviations = np.random.default_rng(20).normal(size=3000)
    path, total = upper_cusum(deviations, 0.5), 0.0
    for index, deviation in enumerate(deviations):
        total = max(0.0, total + deviation - 0.5)
        assert path[index] == pytest.approx(total, abs=1e-9)


@pytest.mark.parametrize("decision_h", [0.0, 1.0, 2.5, 4.0, 6.0, 30.0])
def test_the_alarm_that_ends_the_recursion_is_the_first_of_the_path(decision_h: float) -> None:
    """For 3000 seeded deviations, of which the highest decision value is never reached."""
    deviations = np.random.default_rng(22).normal(size=3000)
    alarm = first_alarm(upper_cusum(deviations, 0.5), decision_h)
    assert alarm_index(deviations.tolist(), 0.5, decision_h) == alarm


def test_without_an_alarm_there_is_none() -> None:
    """A sum that only reaches the decision value has not exceeded it; no samples make no alarm."""
    assert first_alarm(np.array([0.0, 2.0, 4.0]), 4.0) is None
    assert alarm_index([0.5, 2.5, 2.5], 0.5, 4.0) is None
    assert alarm_index([], 0.5, 4.0) is None
    assert first_alarm(upper_cusum(np.array([]), 0.5), 4.0) is None


def test_a_change_before_the_first_sample_is_placed_there() -> None:
    """A sum that was never zero since the start of watching gives -1."""
    path = upper_cusum(np.full(10, 3.0), 0.5)
    assert change_index(path, 4) == -1


def test_simulated_false_alarms_come_as_seldom_as_the_run_length_says() -> None:
    """4000 seeded runs of noise against the computed 117.6 samples, within four standard errors."""
    noise = np.random.default_rng(21).normal(size=(4000, 1500))
    lengths = []
    for run in noise:
        alarm = first_alarm(upper_cusum(run, 0.5), 3.0)
        lengths.append(run.size if alarm is None else alarm + 1)
    mean, error = np.mean(lengths), np.std(lengths) / np.sqrt(len(lengths))
    assert abs(mean - average_run_length(0.0, 0.5, 3.0)) < 4.0 * error
