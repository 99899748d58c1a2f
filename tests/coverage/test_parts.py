"""Parts of a mask by their runs, as SciPy's labels of all pixels have them."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import find_objects, label

from sepkit.coverage import parts
from sepkit.coverage.parts import Parts


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 1 << 30), st.integers(1, 30), st.integers(1, 30), st.floats(0, 1), st.booleans())
def test_parts_of_random_masks(seed, height, width, share, corners):
    rng = np.random.default_rng(seed)
    mask = rng.random((height, width)) < share
    labels, count = label(mask, np.ones((3, 3), int) if corners else None)
    found = Parts.of(mask, corners=corners)
    assert found.count == count
    rows, columns, numbers = found.pixels()
    assert np.array_equal(np.stack(np.nonzero(mask)), [rows, columns])
    assert np.array_equal(numbers, labels[mask])
    assert np.array_equal(found.areas[1:], np.bincount(labels.ravel(), minlength=count + 1)[1:])
    boxes = [[y.start, x.start, y.stop, x.stop] for y, x in find_objects(labels)]
    assert found.boxes[1:].tolist() == boxes
    chosen = rng.random(count + 1) < 0.5
    chosen[0] = False
    assert np.array_equal(found.mask(chosen), chosen[labels])
    assert np.array_equal(found.pixels(chosen)[2], labels[chosen[labels]])
    everywhere = np.indices(mask.shape).reshape(2, -1)
    assert np.array_equal(found.at(*everywhere), labels.ravel())
    for number, (top, left, bottom, right) in enumerate(boxes, 1):
        assert np.array_equal(found.drawn(number), labels[top:bottom, left:right] == number)


def test_bands_make_no_difference(monkeypatch):
    mask = np.random.default_rng(1).random((40, 33)) < 0.55
    whole = Parts.of(mask)
    monkeypatch.setattr(parts, "BAND_PIXELS", 70)
    assert np.array_equal(Parts.of(mask).labels, whole.labels)
