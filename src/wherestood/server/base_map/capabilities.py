"""Read what a Web Map Tile Service offers.

Source: OGC 07-057r7, *OpenGIS Web Map Tile Service Implementation Standard* 1.0.0:
section 6.1 for a pixel of 0.28 mm, section 7.1 for the document, 8.2 for KVP requests,
10.2 for addresses of resources.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode, urlsplit

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

from wherestood.errors import InputError
from wherestood.server.base_map.pyramid import Level, Pyramid

__all__ = ["read_capabilities"]

_WMTS = "{http://www.opengis.net/wmts/1.0}"
_OWS = "{http://www.opengis.net/ows/1.1}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_PIXEL_M = 0.28e-3
_WEB_MERCATOR = ("3857", "900913", "102100")
_FORMATS = ("image/png", "image/jpeg", "image/webp")
_REMEDY = (
    "Set the address of its tiles instead, with {z}, {x} and {y}, or another base map."
)


def read_capabilities(content: bytes, wanted: str, host: str) -> Pyramid:
    """Return the tiles that a capabilities document offers.

    Parameters
    ----------
    content : bytes
        The document.
    wanted : str
        The layer wanted; the first that can be used if empty.
    host : str
        The only host that may be asked.

    Raises
    ------
    InputError
        If it cannot be read, or offers nothing that can be used.
    """
    try:
        root = ElementTree.fromstring(content)
    except (ElementTree.ParseError, DefusedXmlException, ValueError) as error:
        raise InputError(
            "The base map's address does not give a capabilities document.", _REMEDY
        ) from error
    sets = {_words(one, f"{_OWS}Identifier"): one for one in _mercator_sets(root)}
    for layer in root.iterfind(f".//{_WMTS}Layer"):
        if wanted and _words(layer, f"{_OWS}Identifier") != wanted:
            continue
        links = [
            _words(link, f"{_WMTS}TileMatrixSet")
            for link in layer.iterfind(f"{_WMTS}TileMatrixSetLink")
        ]
        known = next((name for name in links if name in sets), None)
        if known is None:
            continue
        template = _template(root, layer, known)
        levels = tuple(_levels(sets[known]))
        if template and levels:
            _require_host(template, host)
            return Pyramid(template, levels)
    raise InputError(
        f"The base map has no layer {wanted!r} in web Mercator (EPSG:3857)."
        if wanted
        else "The base map has no layer in web Mercator (EPSG:3857).",
        _REMEDY,
    )


def _mercator_sets(root: Any) -> Iterator[Any]:
    for one in root.iterfind(f"{_WMTS}Contents/{_WMTS}TileMatrixSet"):
        system = _words(one, f"{_OWS}SupportedCRS").replace(":", " ").split()
        if system and system[-1] in _WEB_MERCATOR:
            yield one


def _levels(matrices: Any) -> list[Level]:
    levels = []
    for one in matrices.iterfind(f"{_WMTS}TileMatrix"):
        try:
            west, north = (
                float(part) for part in _words(one, f"{_WMTS}TopLeftCorner").split()
            )
            levels.append(
                Level(
                    _words(one, f"{_OWS}Identifier"),
                    float(_words(one, f"{_WMTS}ScaleDenominator")) * _PIXEL_M,
                    west,
                    north,
                    int(_words(one, f"{_WMTS}TileWidth")),
                    int(_words(one, f"{_WMTS}MatrixWidth")),
                    int(_words(one, f"{_WMTS}MatrixHeight")),
                )
            )
        except ValueError as error:
            raise InputError(
                "The base map's capabilities document holds a level without its "
                "measures.",
                _REMEDY,
            ) from error
    return sorted(levels, key=lambda level: -level.resolution_m)


def _template(root: Any, layer: Any, matrix_set: str) -> str:
    """Return the address of tiles; what it leaves open is filled here."""
    offered = [one.text or "" for one in layer.iterfind(f"{_WMTS}Format")]
    form = next((one for one in _FORMATS if one in offered), "image/png")
    styles = layer.findall(f"{_WMTS}Style")
    usual = [one for one in styles if one.get("isDefault") == "true"] or styles
    style = _words(usual[0], f"{_OWS}Identifier") if usual else "default"
    given = {"TileMatrixSet": matrix_set, "Style": style, "style": style}
    for dimension in layer.iterfind(f"{_WMTS}Dimension"):
        name = _words(dimension, f"{_OWS}Identifier")
        given[name] = _words(dimension, f"{_WMTS}Default") or "default"
    open_ones = {"TileMatrix": "{z}", "TileCol": "{x}", "TileRow": "{y}"}
    for resource in layer.iterfind(f"{_WMTS}ResourceURL"):
        if resource.get("resourceType") == "tile" and resource.get("format") == form:
            template = str(resource.get("template", ""))
            for name, value in (given | open_ones).items():
                template = template.replace("{" + name + "}", value)
            return template
    for operation in root.iterfind(f".//{_OWS}Operation"):
        get = operation.find(f".//{_OWS}Get")
        if operation.get("name") != "GetTile" or get is None:
            continue
        asked = {
            "SERVICE": "WMTS",
            "REQUEST": "GetTile",
            "VERSION": "1.0.0",
            "LAYER": _words(layer, f"{_OWS}Identifier"),
            "STYLE": style,
            "FORMAT": form,
            "TILEMATRIXSET": matrix_set,
        }
        address = str(get.get(_HREF, "")).rstrip("?&")
        joined = "&" if "?" in address else "?"
        tile = "TILEMATRIX={z}&TILEROW={y}&TILECOL={x}"
        return f"{address}{joined}{urlencode(asked)}&{tile}"
    return ""


def _require_host(template: str, host: str) -> None:
    parts = urlsplit(template)
    if parts.scheme not in ("http", "https") or parts.netloc != host:
        raise InputError(
            f"The base map's tiles lie on another host ({parts.netloc[:100]!r}) than "
            f"its description ({host!r}), and only the one you set is asked.",
            _REMEDY,
        )


def _words(element: Any, path: str) -> str:
    return str(element.findtext(path) or "").strip()
