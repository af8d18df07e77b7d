"""A minimal ICC profile with three primaries and one exponent, written by hand after ICC.1:2001-04 (v2)."""

import struct

import numpy as np

from labkit.colour.cie import colour_science

WIDE_PRIMARIES = np.array([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]])  # of SMPTE RP 431-2, with D65
D65 = np.array([0.3127, 0.3290])


def _xyz(xy):
    return np.array([xy[0] / xy[1], 1.0, (1 - xy[0] - xy[1]) / xy[1]])


def rgb_to_xyz():
    columns = np.array([_xyz(xy) for xy in WIDE_PRIMARIES]).T
    return columns * np.linalg.solve(columns, _xyz(D65))


def wide_profile(gamma=2.2):
    colour = colour_science()
    d50 = np.array([0.9642, 1.0, 0.8249])
    to_d50 = colour.adaptation.matrix_chromatic_adaptation_VonKries(_xyz(D65), d50, transform="Bradford")
    primaries = (to_d50 @ rgb_to_xyz()).T
    tags = {
        b"desc": b"desc" + bytes(4) + struct.pack(">I", 5) + b"wide\0" + bytes(78),
        b"cprt": b"text" + bytes(4) + b"none\0",
        b"wtpt": _number(d50),
        **{name: _number(row) for name, row in zip((b"rXYZ", b"gXYZ", b"bXYZ"), primaries, strict=True)},
        **{
            name: b"curv" + bytes(4) + struct.pack(">IH", 1, round(gamma * 256))
            for name in (b"rTRC", b"gTRC", b"bTRC")
        },
    }
    return _written(tags)


def _number(xyz):
    return b"XYZ " + bytes(4) + struct.pack(">3i", *(round(each * 65536) for each in xyz))


def _written(tags):
    at, directory, body = 128 + 4 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for name, data in tags.items():
        directory += name + struct.pack(">II", at + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    size = 128 + len(directory) + len(body)
    head = struct.pack(">I4sI4s4s4s", size, b"none", 0x02100000, b"mntr", b"RGB ", b"XYZ ")
    head += bytes(12) + b"acsp" + bytes(28) + struct.pack(">3i", 63190, 65536, 54061)
    return head.ljust(128, b"\0") + directory + body
