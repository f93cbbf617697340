"""A live figure against a full render."""

import re
import xml.etree.ElementTree as ET

SVG, XLINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}href"


def parse(svg):
    plain = svg if "xmlns:xlink" in svg else svg.replace("<svg", f'<svg xmlns:xlink="{XLINK[1:].split("}")[0]}"', 1)
    return ET.fromstring(plain)


def patched(live):
    """The document the widget's script builds: each slot's content replaced by its part."""
    root = parse(live.svg)
    for slot, part in live.parts.items():
        (box,) = root.findall(f".//*[@id='{slot}']")
        wrapped = f'<svg xmlns="{SVG[1:-1]}" xmlns:xlink="{XLINK[1:].split("}")[0]}">{part}</svg>'
        box[:] = ET.fromstring(wrapped)[:]
    return root


def drawn(root):
    """Everything painted, in painting order, with references resolved, so that ids do not matter."""
    by_id = {e.get("id"): e for e in root.iter() if e.get("id")}
    hidden = {d for t in ("defs", "metadata") for box in root.iter(SVG + t) for d in box.iter()}

    def strip(e):
        e = ET.fromstring(ET.tostring(e))
        for x in e.iter():
            x.attrib.pop("id", None)
            x.text, x.tail = (x.text or "").strip(), ""
        return e

    def plain(e):
        attributes = {k: v for k, v in e.attrib.items() if k != "id"}
        for k, v in list(attributes.items()):
            for ref in re.findall(r"url\(#(.*?)\)", v) + ([v[1:]] if k == XLINK and v[0] == "#" else []):
                attributes[k] = attributes[k].replace(ref, ET.tostring(strip(by_id[ref])).decode())
        return e.tag.removeprefix(SVG), attributes, (e.text or "").strip(), (e.tail or "").strip()

    structure = {SVG + t for t in ("svg", "g", "defs", "metadata")}
    return [plain(e) for e in root.iter() if e not in hidden and e.tag not in structure]


def assert_same(live):
    assert drawn(patched(live)) == drawn(parse(live.to_svg()))
