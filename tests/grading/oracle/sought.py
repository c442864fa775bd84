"""All that a sound sweep leaves possible where nobody says whether there is a dent, where and of what form.

Told are the noise, the true angles and how days draw their surfaces, dents too; Bayes' rule weighs the rest.
Each dent of a list is first tried beside each family of surfaces on the linearised readings (Laplace), and
the best by the exact likelihood of the display's steps.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from grading.evidence import F64
from grading.surface.quantised import interval_moments
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.oracle.judged import mixed
from tests.grading.oracle.told import Told
from tests.grading.oracle.world import DENSE_DEG, Known, World, families, know, surface_world, tirs_mm

# Dents of the days: three forms, 5 to 15 degrees wide; of the list, middles so far apart.
WIDTHS_DEG, APART_DEG = (5.5, 7.5, 10.0, 13.5), 1.5
# Their height, 8 to 60 % of the harmonics' TIR, log-uniform: root mean square of it.
HEIGHT_SHARE = 0.29
# So many of the list are weighed exactly; the best is then sought at these shares of its distances, and those
# about it at the next are weighed in so many families.
FIRST, HALVINGS, FINER, FAMILIES = 24, (0.5, 0.25, 0.12), 0.25, 3
LOG_HALF = float(np.log(0.5))


@dataclass(frozen=True, slots=True)
class Dent:
    """Middle and full width in degrees, and which of the three forms."""

    middle_deg: float
    width_deg: float
    kind: int

    def at(self, angle_deg: F64) -> F64:
        """At height 1, shape as the angles: as `synthetic.SurfaceShape` has them."""
        off = np.abs((angle_deg - self.middle_deg + 180) % 360 - 180) / (self.width_deg / 2)
        if self.kind == 1:
            return np.asarray(np.exp(-0.5 * (off * 2.5) ** 2))
        near = np.minimum(off, 1.0)
        return np.asarray(0.5 + 0.5 * np.cos(np.pi * near) if self.kind == 0 else (1 - near**4) ** 2)

    def near(self, share: float, reach: int = 1) -> list[Dent]:
        """It and those about it, of all forms, at this share of the list's distances."""
        wider = (WIDTHS_DEG[1] / WIDTHS_DEG[0]) ** share
        places, widths = range(-reach, reach + 1), (-1, 0, 1)
        return [
            Dent(self.middle_deg + off * share * APART_DEG, self.width_deg * wider**wide, kind)
            for off, wide, kind in product(places, widths, range(3))
        ]


EVERYWHERE = tuple(
    Dent(*each) for each in product(np.arange(0.0, 360.0, APART_DEG).tolist(), WIDTHS_DEG, range(3))
)


Explained = list[tuple[float, World, Known]]
"""Explanations with their log weights, up to a constant."""


def sought(one: Told, rng: np.random.Generator, count: int) -> F64:
    """Equally likely true TIRs, shape (count,), as the gauge stretches them."""
    scale = float(np.ptp(one.sweep.value_mm)) / LIMIT_MM
    worlds = [surface_world(one, one.path_deg, scale * sizes, dent_told=False) for sizes in families()]
    known = [know(world, one.sweep.value_mm, one.step_mm, one.day.noise_mm) for world in worlds]
    found: Explained = [(k.log_evidence + LOG_HALF, w, k) for w, k in zip(worlds, known, strict=True)]
    found += _dented(one, worlds, known)
    most = max(weight for weight, _, _ in found)
    likely = [(weight, tirs_mm(w, k, rng, count // 8)) for weight, w, k in found if weight > most - 7]
    return mixed(likely, rng, count)


def _dented(one: Told, worlds: list[World], known: list[Known]) -> Explained:
    """With a dent somewhere, as likely before any reading as none."""
    height = HEIGHT_SHARE * float(np.ptp(one.sweep.value_mm))
    shapes = np.stack([dent.at(one.path_deg) for dent in EVERYWHERE], axis=1)
    score = np.stack(
        [k.log_evidence + _gains(one, w, k, shapes, height) for w, k in zip(worlds, known, strict=True)]
    )
    best = [divmod(int(i), len(EVERYWHERE)) for i in np.argsort(-score, axis=None)[:FIRST]]
    tried = {(f, EVERYWHERE[i]): _with(one, worlds[f], EVERYWHERE[i], height) for f, i in best}
    ranked = sorted(tried, key=lambda each: -tried[each][1].log_evidence)
    top = ranked[0][1]
    for shrink in HALVINGS:
        finer = {dent: _with(one, worlds[ranked[0][0]], dent, height) for dent in top.near(shrink)}
        top = max(finer, key=lambda dent: finer[dent][1].log_evidence)
    # About the best place a finer list takes the place of the first one; each counts for what it stands for.
    each = LOG_HALF - float(np.log(len(EVERYWHERE)))
    share = each + 2 * float(np.log(FINER))
    found: Explained = []
    for (_, dent), (world, k) in tried.items():
        if abs((dent.middle_deg - top.middle_deg + 180) % 360 - 180) > APART_DEG:
            found.append((k.log_evidence + each, world, k))
    for f in list(dict.fromkeys(f for f, _ in ranked))[:FAMILIES]:
        for dent in top.near(FINER, reach=2):
            world, k = _with(one, worlds[f], dent, height)
            found.append((k.log_evidence + share, world, k))
    return found


def _with(one: Told, world: World, dent: Dent, height: float) -> tuple[World, Known]:
    wider = world.beside(dent.at(one.path_deg)[:, None], np.array([height]), dent.at(DENSE_DEG)[:, None])
    return wider, know(wider, one.sweep.value_mm, one.step_mm, one.day.noise_mm)


def _gains(one: Told, world: World, known: Known, shapes: F64, height: float) -> F64:
    """Log evidence that each dent adds, shape (d,), to second order about what is known without one."""
    half, noise = one.step_mm / 2, one.day.noise_mm
    off = one.sweep.value_mm - known.about_mm - world.x @ known.mean
    # Far from what was read the curvature of an interval is of no use: no more noise than half a step.
    wide = max(noise, 0.5 * one.step_mm)
    _, g, h = interval_moments((off - half) / wide, (off + half) / wide)
    g, h = g / wide, h / wide**2
    xr = world.x @ known.root
    cross = xr.T @ (shapes * h[:, None])
    score = shapes.T @ g - cross.T @ (xr.T @ g)
    square = np.maximum(np.einsum("nd,nd->d", shapes, shapes * h[:, None]) - np.sum(cross**2, axis=0), 0.0)
    total = square + height**-2
    return np.asarray(0.5 * score**2 / total - 0.5 * np.log(total * height**2))
