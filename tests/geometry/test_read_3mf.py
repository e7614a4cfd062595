"""3MF: packages, components, transforms, names, colours, and what must never reach the parser."""

from __future__ import annotations

import io
import struct
import time
import tracemalloc
import zipfile

import numpy as np
import pytest
import trimesh

from fixtures.mutated import CORE, box, mesh_xml, model_xml, package
from prep.errors import (
    EmptyFile,
    FileCutShort,
    FileMalformed,
    FileTooLarge,
    NoSuchObject,
    PrepError,
    UnknownUnit,
    UnsafePackage,
)
from prep.geometry.read_3mf import read_3mf

BOX = box((0, 0, 0), (1, 2, 3))
ONE = f'<object id="1" name="block" type="model">{mesh_xml(BOX)}</object>'
ITEM = '<item objectid="1"/>'


def volume(parsed):
    """Signed volume."""
    a, b, c = (parsed.vertices[parsed.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def test_a_body_as_written():
    """Vertices and triangles come back as they stand in the text."""
    parsed = read_3mf(package(model_xml(ONE, ITEM)))
    np.testing.assert_array_equal(parsed.vertices, BOX[0])
    np.testing.assert_array_equal(parsed.triangles, BOX[1])
    assert parsed.unit == "mm"
    assert parsed.colours is None


@pytest.mark.parametrize(
    ("word", "unit"),
    [
        ("micron", "micron"),
        ("millimeter", "mm"),
        ("centimeter", "cm"),
        ("inch", "inch"),
        ("foot", "foot"),
        ("meter", "m"),
    ],
)
def test_units(word, unit):
    """Each of the six units 3MF knows."""
    assert read_3mf(package(model_xml(ONE, ITEM, f'unit="{word}"'))).unit == unit
    assert read_3mf(package(model_xml(ONE, ITEM, ""))).unit == "mm"


@pytest.mark.parametrize("word", ["parsec", "mm", "Inch", ""])
def test_unknown_unit(word):
    """A unit 3MF does not know is refused, not taken for mm."""
    with pytest.raises(UnknownUnit):
        read_3mf(package(model_xml(ONE, ITEM, f'unit="{word}"')))


def test_nested_components():
    """Transforms act on rows, the inner before the outer; a mirror keeps the outside outside."""
    resources = (
        ONE
        + '<object id="2" type="model"><components><component objectid="1" transform="2 0 0 0 1 0 0 0 1 10 0 0"/>'
        + '</components></object><object id="3" type="model"><components>'
        + '<component objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 0 5"/></components></object>'
    )
    items = '<item objectid="3" transform="1 0 0 0 1 0 0 0 -1 100 0 0"/>'
    parsed = read_3mf(package(model_xml(resources, items)))
    # by hand: x in 0..1 -> 10..12, y in 0..2; turned: x' = -y, y' = x; z + 5, then -z; x + 100
    np.testing.assert_allclose(parsed.vertices.min(axis=0), [98, 10, -8])
    np.testing.assert_allclose(parsed.vertices.max(axis=0), [100, 12, -5])
    assert volume(parsed) == pytest.approx(12.0)


def test_an_object_by_name_or_number():
    """One object of several, in every place the build gives it, or as it stands if the build gives none."""
    other = f'<object id="7" name="lid" type="model">{mesh_xml(box((0, 0, 0), (5, 5, 1)))}</object>'
    spare = f'<object id="9" name="spare" type="model">{mesh_xml(box((0, 0, 0), (3, 3, 3)))}</object>'
    parts = '<component objectid="7"/><component objectid="1"/>'
    pair = f'<object id="8" type="model"><components>{parts}</components></object>'
    items = '<item objectid="8" transform="1 0 0 0 1 0 0 0 1 50 0 0"/><item objectid="1"/>'
    data = package(model_xml(ONE + other + spare + pair, items))
    assert volume(read_3mf(data)) == pytest.approx(25 + 6 + 6)
    for name in ("lid", "7"):
        lid = read_3mf(data, name)
        assert volume(lid) == pytest.approx(25)
        assert lid.vertices[:, 0].min() == 50
    assert volume(read_3mf(data, "block")) == pytest.approx(12)
    loose = read_3mf(data, "spare")
    assert volume(loose) == pytest.approx(27)
    assert "not placed" in loose.notes[0]
    with pytest.raises(NoSuchObject) as fault:
        read_3mf(data, "blok")
    assert "'block'" in fault.value.fix
    assert "lid (7)" in fault.value.found


def test_colours():
    """A colour per triangle, one of the object where a triangle has none, and a base material's."""
    group = (
        '<m:colorgroup id="5"><m:color color="#FF0000FF"/><m:color color="#00FF0080"/></m:colorgroup>'
        '<basematerials id="6"><base name="pla" displaycolor="#102030"/></basematerials>'
    )
    mesh = mesh_xml(BOX).replace("<triangle ", '<triangle pid="5" p1="1" ', 1)
    mesh = mesh.replace('<triangle v1="0" v2="3"', '<triangle pid="6" p1="0" v1="0" v2="3"', 1)
    resources = group + f'<object id="1" type="model" pid="5" pindex="0">{mesh}</object>'
    unit = 'unit="millimeter" xmlns:m="http://schemas.microsoft.com/3dmanufacturing/material/2015/02"'
    colours = read_3mf(package(model_xml(resources, ITEM, unit))).colours
    np.testing.assert_array_equal(colours[0], [0, 255, 0, 128])
    np.testing.assert_array_equal(colours[1], [16, 32, 48, 255])
    np.testing.assert_array_equal(colours[2:], np.tile([255, 0, 0, 255], (10, 1)))


def test_supports_are_left_out():
    """A support is not part of the model, and the reading says so."""
    stick = f'<object id="2" name="stick" type="support">{mesh_xml(BOX)}</object>'
    parsed = read_3mf(package(model_xml(ONE + stick, ITEM + '<item objectid="2"/>')))
    assert len(parsed.triangles) == 12
    assert "stick" in parsed.notes[0]


def test_agrees_with_trimesh(shared_meshes):
    """The consortium's own samples have the volume and bounds that trimesh reads."""
    pytest.importorskip("lxml")
    for name in ("3mf-components", "3mf-six-instances", "3mf-wagon-transforms"):
        # outside check: trimesh's own 3MF reader
        other = trimesh.load_scene(shared_meshes / f"{name}.3mf").to_mesh()
        parsed = read_3mf((shared_meshes / f"{name}.3mf").read_bytes())
        assert volume(parsed) == pytest.approx(other.volume, rel=1e-6)
        np.testing.assert_allclose(parsed.vertices.min(axis=0), other.bounds[0], atol=1e-4)


# --- what must never reach the parser -----------------------------------------------------------


def test_nothing_built():
    """A model without a build, or whose build is only supports, is an empty file."""
    with pytest.raises(EmptyFile):
        read_3mf(package(model_xml(ONE, "")))


@pytest.mark.parametrize(
    "before",
    ['<!DOCTYPE model [<!ENTITY a "aaaaaaaaaa">]>', "<!doctype model>", '<!ENTITY a "b">', "<!ELEMENT model ANY>"],
)
def test_declarations(before):
    """Any document type or entity is refused, used or not, in any part of the package."""
    with pytest.raises(UnsafePackage):
        read_3mf(package(model_xml(ONE, ITEM, before=before)))
    with pytest.raises(UnsafePackage):
        read_3mf(package(model_xml(ONE, ITEM), [("3D/more.xml", f"<a/>{before}".encode())]))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-32"])
def test_other_encodings(encoding):
    """An encoding in which a declaration could hide is refused."""
    text = model_xml(ONE, ITEM, before="<!DOCTYPE a>").decode().replace("UTF-8", encoding)
    with pytest.raises(UnsafePackage):
        read_3mf(package(text.encode(encoding)))
    with pytest.raises(UnsafePackage):
        read_3mf(package(model_xml(ONE, ITEM).replace(b"UTF-8", b"UTF-7")))


@pytest.mark.parametrize("name", ["../evil.model", "/etc/evil", "a/../../b", "C:/evil", "a\\..\\b", "3D//x"])
def test_escaping_members(name):
    """A member whose name leads out of the package is refused."""
    with pytest.raises(UnsafePackage):
        read_3mf(package(model_xml(ONE, ITEM), [(name, b"hello")]))


def test_members_twice():
    """Two members of one name, whatever their case, are refused: two readers would read two models."""
    with pytest.raises(UnsafePackage):
        read_3mf(package(model_xml(ONE, ITEM), [("3d/3DMODEL.model", b"<model/>")]))


def test_zip_bomb_by_ratio():
    """A member that unpacks beyond all proportion is refused before it is unpacked."""
    data = package(model_xml(ONE, ITEM), [("3D/filler.bin", bytes(40_000_000))])
    tracemalloc.start()
    with pytest.raises(FileTooLarge):
        read_3mf(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 5_000_000


def test_zip_bomb_that_lies():
    """A member that announces little and unpacks to much is caught while it unpacks, in bounded memory."""
    data = package(model_xml(ONE, ITEM), [("3D/filler.bin", bytes(60_000_000))])
    lie = data.replace(struct.pack("<I", 60_000_000), struct.pack("<I", 900_000))
    tracemalloc.start()
    with pytest.raises(UnsafePackage) as fault:
        read_3mf(lie)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "more than the 900000 bytes" in fault.value.found
    assert peak < 8_000_000


def test_too_many_members():
    """Ten thousand and one members are refused."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        for number in range(10_001):
            file.writestr(zipfile.ZipInfo(f"m{number}"), b"")
    with pytest.raises(FileTooLarge):
        read_3mf(buffer.getvalue())


def bomb(levels, *, decoy="", close=""):
    """Objects of ten components each, one upon the other, with something before their components."""
    rows = [
        f'<object id="{k}" type="model">{decoy}<components>'
        + f'<component objectid="{k - 1}"/>' * 10
        + f"</components>{close}</object>"
        for k in range(2, levels + 2)
    ]
    return ONE + "".join(rows)


DECOYS = [
    "<!-- <object id='99'/></object><object id='98'> -->",
    "<?x <object id='99'> ?>",
    "<![CDATA[<object id='99'>]]>",
]
SLY = ['<object id="99"/>', '<y:object xmlns:y="urn:y" id="99"/>', '<z xmlns="urn:z"><object id="99"/></z>']


@pytest.mark.parametrize("decoy", ["", *DECOYS])
def test_component_bomb(decoy):
    """Thirty levels of ten components each are refused in no time, whatever stands between to mislead the count."""
    begun = time.perf_counter()
    with pytest.raises(FileTooLarge):
        read_3mf(package(model_xml(bomb(30, decoy=decoy), '<item objectid="31"/>')))
    assert time.perf_counter() - begun < 2.0
    if not decoy.startswith("<?"):  # which lib3mf itself refuses there
        assert len(read_3mf(package(model_xml(bomb(2, decoy=decoy), '<item objectid="3"/>'))).triangles) == 1200


@pytest.mark.parametrize("decoy", SLY)
def test_component_bomb_behind_a_foreign_mark(decoy):
    """A mark that the parser would pass over, and the count would not, is refused."""
    with pytest.raises((UnsafePackage, FileMalformed)):
        read_3mf(package(model_xml(bomb(30, decoy=decoy), '<item objectid="31"/>')))


def test_component_circle():
    """An object that holds itself is refused."""
    circle = '<object id="2" type="model"><components><component objectid="2"/></components></object>'
    with pytest.raises(FileTooLarge):
        read_3mf(package(model_xml(ONE + circle, '<item objectid="2"/>')))


def test_too_many_triangles_placed(monkeypatch):
    """What components multiply counts, not what the file lists."""
    monkeypatch.setattr("prep.geometry.read_3mf.MOST_TRIANGLES", 100)
    assert len(read_3mf(package(model_xml(ONE, ITEM * 8))).triangles) == 96
    with pytest.raises(FileTooLarge):
        read_3mf(package(model_xml(ONE, ITEM * 9)))


def test_encrypted_linked_or_oddly_packed():
    """An encrypted member, a link, and a packing method 3MF does not allow are refused."""
    plain = package(model_xml(ONE, ITEM))
    for flip in (
        lambda d, at: d[: at + 8] + b"\x01" + d[at + 9 :],
        lambda d, at: d[: at + 10] + b"\x0c" + d[at + 11 :],
    ):
        with pytest.raises(UnsafePackage):
            read_3mf(flip(plain, plain.rindex(b"PK\x01\x02")))
    at = plain.rindex(b"PK\x01\x02")
    link = plain[: at + 38] + struct.pack("<I", 0o120777 << 16) + plain[at + 42 :]
    with pytest.raises(UnsafePackage):
        read_3mf(link)


def test_packages_that_are_broken():
    """A package cut anywhere, or with any byte of its model changed, is refused."""
    data = package(model_xml(ONE, ITEM))
    for share in (0.1, 0.5, 0.9, 0.99):
        with pytest.raises(FileCutShort):
            read_3mf(data[: int(share * len(data))])
    at = data.index(b"3D/3dmodel.model") + 40
    with pytest.raises(UnsafePackage):
        read_3mf(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
    with pytest.raises(FileCutShort):
        read_3mf(data + data)


def test_model_cut_short():
    """A whole package around half a model is refused."""
    with pytest.raises(FileCutShort):
        read_3mf(package(model_xml(ONE, ITEM)[:-20]))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('x="1"', 'x="nan"'),
        ('x="1.0"', 'x="1e999"'),
        ('v1="0"', 'v1="8"'),
        ('v1="0"', 'v1="4294967295"'),
        ('objectid="1"', 'objectid="2"'),
        ('objectid="1"', 'objectid="one"'),
        (CORE, "http://example.org/none"),
    ],
)
def test_rules_broken(old, new):
    """What lib3mf refuses is a fault with its reason, not a traceback."""
    text = (
        model_xml(ONE, ITEM).decode().replace('x="1.0"', 'x="1"', 1)
        if old == 'x="1"'
        else model_xml(ONE, ITEM).decode()
    )
    assert old in text
    with pytest.raises((FileMalformed, EmptyFile)) as fault:
        read_3mf(package(text.replace(old, new).encode()))
    assert isinstance(fault.value, PrepError)
    assert fault.value.found
