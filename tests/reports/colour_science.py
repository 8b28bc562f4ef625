"""What colours look like to others: published formulas, kept apart from the code they check."""

from __future__ import annotations

import numpy as np

# Source: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color
# Vision Deficiency", IEEE TVCG 15(6), 2009, authors' table of matrices, severity 1.0; applied to linear RGB.
MACHADO = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}

# Source: IEC 61966-2-1 (sRGB): linear RGB to CIE XYZ, D65.
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def linear(colour):
    parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def seen_by(colour, kind):
    """Linear RGB of a colour as a person with that vision sees it."""
    return np.clip(np.array(MACHADO[kind]) @ linear(colour), 0.0, 1.0)


def lab(rgb):
    """CIELAB of linear RGB, white D65 (CIE 15)."""
    ratio = (_XYZ @ rgb) / _XYZ.sum(axis=1)
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def difference(one, other, kind=None):
    """CIE 1976 colour difference; about 2.3 is just noticeable."""
    first, second = (linear(c) if kind is None else seen_by(c, kind) for c in (one, other))
    return float(np.linalg.norm(lab(first) - lab(second)))
