"""Say how each layer of a map is drawn, for programs that read it.

Twice: as Styled Layer Descriptor 1.0.0 (OGC 02-070), which map servers read, and in the
form that desktop programs keep beside a GeoPackage's tables (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass
from xml.sax.saxutils import quoteattr

from wherestood.record.palette import GRAPHITE, IRON_BLUE, MADDER, STRAW

__all__ = ["MapStyle", "style_of"]

_SLD = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<StyledLayerDescriptor version="1.0.0" xmlns="http://www.opengis.net/sld">'
    "<NamedLayer><Name>{name}</Name><UserStyle><FeatureTypeStyle><Rule>{rule}"
    "</Rule></FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>"
)
_QML = (
    '<qgis version="3.22"><renderer-v2 type="singleSymbol"><symbols>'
    '<symbol name="0" type="{kind}" alpha="1"><layer class="{drawn}" enabled="1" '
    'pass="0">{props}</layer></symbol></symbols></renderer-v2></qgis>'
)


@dataclass(frozen=True)
class MapStyle:
    """Hold how a layer is drawn, in either form."""

    qml: str
    sld: str


def style_of(layer: str) -> MapStyle:
    """Return how a layer is drawn: computed ground dashed blue, people's solid."""
    if layer == "stations":
        return MapStyle(_marker(IRON_BLUE, 3.2), _sld(layer, _point_rule(IRON_BLUE, 9)))
    if layer == "regions":
        return _area(layer, IRON_BLUE, 0.14, dashed=True)
    if layer == "views":
        return _area(layer, STRAW, 0.10, dashed=True)
    # Things of any shape: what no area or line has is drawn by its outline.
    return _area(layer, MADDER, 0.12, dashed=False)


def _marker(colour: str, size_mm: float) -> str:
    props = {
        "name": "circle", "color": _rgba(colour, 1.0), "size": str(size_mm),
        "outline_color": _rgba(GRAPHITE, 1.0), "outline_width": "0.3",
        "size_unit": "MM",
    }  # fmt: skip
    return _qml("marker", "SimpleMarker", props)


def _area(layer: str, colour: str, opacity: float, *, dashed: bool) -> MapStyle:
    if layer == "features":
        # Of mixed shapes: a single symbol would draw none, so only the server's form.
        rule = _polygon_rule(colour, opacity, dashed) + _point_rule(colour, 7)
        return MapStyle("", _sld(layer, rule))
    props = {
        "color": _rgba(colour, opacity), "outline_color": _rgba(colour, 1.0),
        "outline_style": "dash" if dashed else "solid", "outline_width": "0.4",
        "style": "solid",
    }  # fmt: skip
    return MapStyle(
        _qml("fill", "SimpleFill", props),
        _sld(layer, _polygon_rule(colour, opacity, dashed)),
    )


def _qml(kind: str, drawn: str, props: dict[str, str]) -> str:
    said = "".join(
        f"<prop k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in props.items()
    )
    return _QML.format(kind=kind, drawn=drawn, props=said)


def _sld(name: str, rule: str) -> str:
    return _SLD.format(name=name, rule=rule)


def _point_rule(colour: str, size_px: int) -> str:
    return (
        "<PointSymbolizer><Graphic><Mark><WellKnownName>circle</WellKnownName>"
        f'<Fill><CssParameter name="fill">{colour}</CssParameter></Fill>'
        f'<Stroke><CssParameter name="stroke">{GRAPHITE}</CssParameter></Stroke>'
        f"</Mark><Size>{size_px}</Size></Graphic></PointSymbolizer>"
    )


def _polygon_rule(colour: str, opacity: float, dashed: bool) -> str:
    dash = '<CssParameter name="stroke-dasharray">6 4</CssParameter>' if dashed else ""
    return (
        f'<PolygonSymbolizer><Fill><CssParameter name="fill">{colour}</CssParameter>'
        f'<CssParameter name="fill-opacity">{opacity}</CssParameter></Fill>'
        f'<Stroke><CssParameter name="stroke">{colour}</CssParameter>'
        f'<CssParameter name="stroke-width">1.5</CssParameter>{dash}</Stroke>'
        "</PolygonSymbolizer>"
    )


def _rgba(colour: str, opacity: float) -> str:
    parts = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    return ",".join(map(str, [*parts, round(255 * opacity)]))
