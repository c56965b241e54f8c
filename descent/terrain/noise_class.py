# SPDX-License-Identifier: MIT
"""What is taken as known of elevation models, in three classes: bench seen, fine without bench, coarse.

All figures were set on synthetic roads of known truth (tuning seeds only); none is published.
"""

from __future__ import annotations

from dataclasses import dataclass

from descent.terrain.alignment import AlignmentModel

FINE_CELL_M = 15.0
_REFERENCE_COARSE_CELL_M = 30.0
WIDEST_PROVEN_CELL_M = 45.0     # what lies beyond was not measured on roads of known truth
_HILLSIDE_SHARE = 0.25
FARTHEST_ASIDE_M = 60.0


@dataclass(frozen=True)
class NoiseClass:
    """One class.

    start_sd_m: first guess of the noise; length_m: its correlation length along the road; offset_sd_m,
    offset_length_m: sideways error of the line that is left; rate_density: first process noise of the smoother
    [(1/m)^2 per m]; rate_window_m: span over which roughness is learnt; alignment: the alignment average's
    model, with alignment_noise the factor on the learnt noise sd and alignment_offset_sd_m the sideways error
    there; smoother_share: weight of the plain smoother beside it; smoother_band, band (heights), grade_band:
    factors on standard deviations so that bands cover; near_band: factor on the grade sd usual within 600 m, added
    in quadrature, because where a road has no straight grades the stretches that look straight are the least known; contrast, contrast_window_m: share by which departures from the local mean
    are enlarged against the flattening of steep grades; slow_sd_m: slow height error of the
    elevation model, which no smoothing removes; height_length_m, grade_length_m: correlation lengths of the
    remaining errors; hysteresis_m: rise that ends a sustained downgrade; aside_m: how far to both sides the ground
    is asked for the elevation model's error (`beside`), none where the bench is seen.
    """

    name: str
    start_sd_m: float
    length_m: float
    offset_sd_m: float
    offset_length_m: float
    rate_density: float
    rate_window_m: float
    alignment: AlignmentModel
    alignment_noise: float
    alignment_offset_sd_m: float
    smoother_share: float
    smoother_band: float
    band: float
    grade_band: float
    near_band: float
    contrast: float
    contrast_window_m: float
    slow_sd_m: float
    height_length_m: float
    hysteresis_m: float
    grade_length_m: float
    aside_m: tuple[float, ...] = ()


BENCH = NoiseClass(
    name="road bench seen in the elevation model", start_sd_m=1.0, length_m=50.0, offset_sd_m=1.0,
    offset_length_m=100.0, rate_density=3e-10, rate_window_m=30.0,
    alignment=AlignmentModel(step_m=40.0, tangent_m=800.0, curve_m=120.0, rate_sd_1pm=3e-4, slow_density=1e-4,
                             noise_length_m=55.0, draws=10),
    alignment_noise=1.1, alignment_offset_sd_m=1.0, smoother_share=0.25, smoother_band=1.2, band=1.05,
    grade_band=0.62, near_band=0.55,
    contrast=0.015, contrast_window_m=600.0, slow_sd_m=0.0, height_length_m=150.0,
    hysteresis_m=5.0, grade_length_m=90.0)

FINE = NoiseClass(
    name="fine elevation model without a visible road bench", start_sd_m=1.0, length_m=110.0, offset_sd_m=5.5,
    offset_length_m=150.0, rate_density=3e-10, rate_window_m=30.0,
    alignment=AlignmentModel(step_m=40.0, tangent_m=400.0, curve_m=120.0, rate_sd_1pm=3e-4, slow_density=1e-3,
                             noise_length_m=110.0, draws=10),
    alignment_noise=1.0, alignment_offset_sd_m=5.5, smoother_share=0.4, smoother_band=1.2, band=1.25,
    grade_band=1.1, near_band=0.0,
    contrast=0.03, contrast_window_m=600.0, slow_sd_m=1.0, height_length_m=200.0,
    hysteresis_m=5.0, grade_length_m=110.0, aside_m=(10.0, 20.0, 30.0))


def coarse_class(cell_m: float) -> NoiseClass:
    """The class of coarse elevation models; lengths grow with the cell beyond 30 m.

    On cells beyond 45 m a road on a hillside reads ground up to a good part of a cell away: the line then counts
    as off by a quarter of a cell. Raw heights along roads on 3-arc-second cells in steep country differ from an
    independent profile by about 12 m over 300 m and 14 m over 1 km (measured once elsewhere, not published).
    """
    grown = max(1.0, cell_m / _REFERENCE_COARSE_CELL_M)
    wide = cell_m > WIDEST_PROVEN_CELL_M
    off = _HILLSIDE_SHARE * cell_m if wide else 5.5
    return NoiseClass(
        name=f"coarse elevation model ({cell_m:.0f} m cells)", start_sd_m=3.0, length_m=90.0 * grown,
        offset_sd_m=off, offset_length_m=max(150.0, 2 * cell_m), rate_density=2e-10, rate_window_m=60.0 * grown,
        alignment=AlignmentModel(step_m=50.0 * grown, tangent_m=300.0 * grown, curve_m=120.0, rate_sd_1pm=3e-4,
                                 slow_density=1e-3, noise_length_m=60.0 * grown, draws=8),
        alignment_noise=0.9, alignment_offset_sd_m=off if wide else 4.0, smoother_share=0.4, smoother_band=1.3,
        band=1.5 if wide else 1.05, grade_band=1.5 if wide else 1.05, near_band=0.0,
        contrast=0.0 if wide else 0.06, contrast_window_m=2000.0,
        slow_sd_m=5.0 if wide else 2.5, height_length_m=400.0 if wide else 900.0, grade_length_m=165.0 * grown,
        hysteresis_m=10.0 if wide else 4.0, aside_m=() if wide else (16.0, 30.0, FARTHEST_ASIDE_M))
