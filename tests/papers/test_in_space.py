"""Solids as pictures: a glTF file says what the standard asks for, and a PNG hides what is behind."""

from __future__ import annotations

import io
import json
import struct
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import shapely
from PIL import Image

from ledger.assembly.solids import Mesh, cylinder, mesh_of, prism
from ledger.domain.errors import BadInput
from ledger.papers.in_space import view

PLATE = prism(shapely.box(0, 0, 100, 60) - shapely.Point(20, 30).buffer(7), -10, 0)
POST = cylinder(12, 0, 80)


def mesh(name, solid, shift=(0.0, 0.0, 0.0)):
    corners, faces = mesh_of(solid)
    return Mesh(name, corners + np.array(shift), faces)


TWO = (mesh("PLATE", PLATE), mesh("POST", POST, (60, 30, 0)))


def read_glb(data):
    """As Khronos glTF 2.0, section 4.4, lays a file out: header, chunk of JSON, chunk of data."""
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert (kind, size % 4) == (b"JSON", 0)
    said = json.loads(data[20 : 20 + size])
    rest, kind = struct.unpack_from("<I4s", data, 20 + size)
    assert (kind, rest % 4, 28 + size + rest) == (b"BIN\0", 0, len(data))
    return said, data[28 + size :]


def array(said, data, number):
    accessor = said["accessors"][number]
    assert (accessor["componentType"], accessor["type"]) == (5126, "VEC3")
    of = said["bufferViews"][accessor["bufferView"]]
    assert of["byteOffset"] % 4 == 0
    assert of["byteOffset"] + of["byteLength"] <= said["buffers"][of["buffer"]]["byteLength"] <= len(data)
    start = of["byteOffset"]
    found = np.frombuffer(data[start : start + of["byteLength"]], dtype="<f4").reshape(-1, 3).astype(float)
    assert len(found) == accessor["count"]
    if "min" in accessor:
        assert found.min(axis=0).tolist() == accessor["min"]
        assert found.max(axis=0).tolist() == accessor["max"]
    return found


def test_a_glb_file_holds_every_solid_by_its_name_with_its_volume():
    said, data = read_glb(view(TWO, "glb"))
    assert said["asset"]["version"] == "2.0"
    (top,) = (said["nodes"][k] for k in said["scenes"][said["scene"]]["nodes"])
    named = {said["nodes"][k]["name"]: said["meshes"][said["nodes"][k]["mesh"]] for k in top["children"]}
    assert set(named) == {"PLATE", "POST"}
    for name, solid in (("PLATE", PLATE), ("POST", POST)):
        (one,) = named[name]["primitives"]
        corners, across = (array(said, data, one["attributes"][k]) for k in ("POSITION", "NORMAL"))
        assert np.linalg.norm(across, axis=1) == pytest.approx(1, abs=1e-5)
        a, b, c = corners[0::3], corners[1::3], corners[2::3]
        assert np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6 == pytest.approx(solid.volume(), rel=1e-4)
    assert top["scale"] == [0.001] * 3  # mm to m
    x, _, _, w = top["rotation"]
    assert (2 * x * w, 1 - 2 * x * x) == pytest.approx((-1, 0))  # a quarter turn about x: z up becomes y up


def colors(data):
    image = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).reshape(-1, 3).astype(int)
    return {tuple(c) for c in np.unique(image, axis=0)}


def test_what_is_behind_is_hidden_in_a_png():
    small = mesh("SMALL", prism(shapely.box(0, 0, 10, 10), 0, 10))
    wall = mesh("WALL", prism(shapely.box(60, -200, 70, 100), -100, 200))  # between it and the eye
    alone, hidden, there = view((small,), "png"), view((wall, small), "png"), view((wall,), "png")
    tints = colors(view((wall, mesh("SMALL", prism(shapely.box(0, 0, 10, 10), 0, 10), (90, -50, 0))), "png"))
    assert colors(hidden) == colors(there)
    assert tints > colors(there)
    assert Image.open(io.BytesIO(alone)).size[0] <= 1600


def test_an_svg_paints_near_faces_last_and_names_its_parts():
    root = ET.fromstring(view((*TWO, mesh("A<B", POST, (90, 30, 0))), "svg"))  # noqa: S314 - our own
    ns = "{http://www.w3.org/2000/svg}"
    assert root.find(f"{ns}title").text == "PLATE, POST, A<B"
    assert len(root.findall(f"{ns}path")) > 40


def test_another_kind_of_file_and_no_body_are_refused():
    with pytest.raises(BadInput, match="expected a name that ends"):
        view(TWO, "stl")
    with pytest.raises(BadInput, match="no part of the assembly has a body"):
        view((), "png")
